// What passes between the page and its server: JSON there and back, and refusals as sentences.

/** What the server would not do, in one sentence; where, if it is known. */
export class Refused extends Error {
  constructor(status, body) {
    super(body?.problem?.sentence ?? "The server gave no answer that the page understands.");
    this.status = status;
    this.path = body?.problem?.path ?? null;
    this.state = body?.state ?? null;
    this.changed = body?.changed ?? false;
  }
}

async function answer(path, options) {
  let got;
  try {
    got = await fetch(path, { credentials: "same-origin", cache: "no-store", ...options });
  } catch (failure) {
    if (failure.name === "AbortError") throw failure;
    throw new Refused(0, { problem: { sentence: "stitchpath does not answer: is it still running in its window? What you did is kept as a draft." } });
  }
  const text = await got.text();
  let body = null;
  try {
    body = text ? JSON.parse(text) : null;
  } catch {
    body = null;
  }
  if (!got.ok) throw new Refused(got.status, body);
  return body;
}

export const get = (path, options) => answer(path, options);

export const post = (path, body = {}) =>
  answer(path, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) });

/** Bring a file into her folder; with a design, beside that. */
export const upload = (file, design = null) =>
  answer(`/api/uploads?name=${encodeURIComponent(file.name)}${design ? `&design=${encodeURIComponent(design)}` : ""}`, {
    method: "POST", headers: { "content-type": "application/octet-stream" }, body: file,
  });

/** Follow a job to its end. Gives what it made, or null where it was cancelled. */
export function follow(job, hear) {
  return new Promise((done, failed) => {
    const events = new EventSource(`/api/jobs/${job}/events`);
    let misses = 0;
    const end = (finish, value) => {
      events.close();
      finish(value);
    };
    for (const kind of ["now", "found"]) {
      events.addEventListener(kind, (event) => {
        misses = 0;
        hear(kind, JSON.parse(event.data));
      });
    }
    events.addEventListener("done", (event) => {
      const made = JSON.parse(event.data);
      end(done, made.result ?? made);
    });
    events.addEventListener("cancelled", () => end(done, null));
    events.addEventListener("failed", (event) => end(failed, new Refused(422, { problem: { sentence: JSON.parse(event.data).sentence } })));
    events.onerror = () => {
      misses += 1;
      if (misses > 3 || events.readyState === EventSource.CLOSED) end(failed, new Refused(0, null));
    };
  });
}
