// What is in her hands, in words: the machine and its feet, her pace, the stitch, thread, and money.

import { app, ask, render } from "./app.mjs";
import { h } from "./dom.mjs";
import { MM, taken, told, written } from "./lengths.mjs";
import { lastParts, lastTook } from "./minutes.mjs";
import { among, fold, keyed, long, number, pick, plainNumber, slipAt, typed, worded } from "./words.mjs";

const KIND_WORDS = { ditch: "in the ditch", centre: "through the middle", outline: "round an edge", echo: "echoes", fill: "fills", drawn: "lines of your own", travel: "on the way" };

export const kinds = () => (app.start?.kinds ?? Object.keys(KIND_WORDS)).filter((kind) => kind !== "travel");

/** What holds where she says nothing; the library tells it. */
const usual = () => app.start?.usual ?? {};
const usualLong = (mm) => (mm === undefined || mm === null ? "not said" : told(mm, app.state.unit));
const cap = (words) => words.slice(0, 1).toUpperCase() + words.slice(1);
const listed = (parts) => parts.flatMap((part, k) => [k ? ", " : "", part]);

/** What her shop's profile says where this design leaves it open. */
const shop = (table) => app.state.shop?.[table] ?? {};
const kindNow = () => app.state.data.machine?.kind ?? shop("machine").kind ?? "domestic";

/** A pale figure: as the profile has it, else as is usual. */
const pale = (table, name, other) => (shop(table)[name] === undefined ? other : `${shop(table)[name]}`);

export function choices() {
  const framed = kindNow() === "frame";
  const { profile } = app.start ?? {};
  return h("div", { key: "choices" },
    profile ? keyed("profile", "What you leave open here is as in your shop’s profile, ", h("strong", {}, profile.file), ".") : null,
    framed ? frameWords() : domesticWords(), wayWords(framed),
    fold("What things take you", false, paceWords(framed)),
    fold("What shows, and what it is worth", false, showWords()),
    fold("Stitches, ends and bobbins", false, stitchWords()),
    fold("Cloth, and what you charge", false, chargeWords()));
}

// ---- the machine ----

const MACHINES = [["domestic", "a domestic machine"], ["frame", "a machine in a frame"]];

/** Another machine: what only the other one has is left out. */
const kindWord = () => pick({ key: "machine/kind", value: kindNow(), options: MACHINES, label: "quilted on", put: (kind, data) => {
  const gone = Object.keys(data.machine ?? {}).filter((name) => name !== "kind");
  return [...gone.map((name) => none("machine", name)), { op: "set", path: ["machine", "kind"], value: kind === (app.start?.profile?.kind ?? "domestic") ? null : kind }];
} });

/** What something took in the last path, in brackets. */
function took(part, what) {
  const words = lastTook(part);
  return words && h("span", { class: "small", key: `took ${part}` }, ` (${what} took ${words} of the last path)`);
}

const none = (...path) => ({ op: "set", path, value: null });

function domesticWords() {
  const asked = app.state.data.machine ?? {};
  const feet = [["walking", "the walking foot"], ["free-motion", "the free-motion foot"]];
  const each = typeof asked.foot === "object";
  return [
    keyed("machine", "Quilted on ", kindWord(), ", with ", pick({ key: "machine/foot", value: each ? "each" : asked.foot ?? null, options: [[null, shop("machine").foot ? "the feet of your profile" : "the foot that suits each line"], ...feet.map(([foot, words]) => [foot, `${words} for all`]), ["each", "a foot for each kind of line"]], label: "foot",
      put: (foot) => (foot === "each" ? [none("machine", "foot"), { op: "set", path: ["machine", "foot"], value: { ditch: "walking" } }] : [none("machine", "foot"), ...(foot ? [{ op: "set", path: ["machine", "foot"], value: foot }] : [])]) }), took("feet", "changing it"), "."),
    each ? keyed("feet", listed(kinds().map((kind) => [cap(KIND_WORDS[kind]), ": ", among(["machine", "foot", kind], asked.foot[kind] ?? null, [[null, "the foot that suits it"], ...feet], `foot for ${KIND_WORDS[kind]}`)])), ".") : null,
    throatWords(asked.throat),
  ];
}

const throat = { width: "", height: "" };

/** The room right of the needle is told by both its sides: the first waits for the second. */
function throatWords(asked) {
  const { unit } = app.state;
  const side = (name, words) => typed({ key: `machine/throat/${name}`, value: asked ? written(asked[name], unit) : throat[name], label: `throat, ${words}`, hint: shop("machine").throat?.[name] ?? "not said", wide: 4, words: (text) => `throat ${words} ${text}`, put: (text, data) => {
    const other = name === "width" ? "height" : "width";
    const said = data.machine?.throat;
    throat[name] = text.trim();
    if (!throat[name]) return said ? [none("machine", "throat")] : [];
    if (said) return [{ op: "set", path: ["machine", "throat", name], value: taken(text, unit) }];
    if (!throat[other]) {
      render();
      return [];
    }
    return [{ op: "set", path: ["machine", "throat"], value: { width: taken(throat.width, unit), height: taken(throat.height, unit) } }];
  } });
  return keyed("throat", "Its throat is ", side("width", "from needle to arm"), " from needle to arm and ", side("height", "from bed to arm"), " from bed to arm",
    asked ?? shop("machine").throat ? ": each run tells the roll that has to fit." : !throat.width === !throat.height ? ". Say both, and each run tells the roll that has to fit." : ". Say the other side as well.", slipAt("machine/throat"));
}

const shows = [["one", "as one piece, not pass by pass"], ["depth", "equally deep throughout"], ["throat", "as deep as the roll leaves"]];

function frameWords() {
  const asked = app.state.data.machine ?? {};
  const at = (name) => ["machine", name];
  const usualPart = usual().machine ?? {};
  const said = { ...shop("machine"), ...asked };
  const now = said.throat !== undefined ? "throat" : said.depth !== undefined ? "depth" : "one";
  const open = shop("machine").throat === undefined && shop("machine").depth === undefined;
  const known = (name, other) => ({ hint: pale("machine", name, other) });
  const wide = app.state.unit === "in" ? "18 in" : "45 cm";
  return keyed("machine", "Quilted on ", kindWord(), ". It shows the quilt ", pick({ key: "machine/shows", value: now, options: open ? shows : shows.slice(1), label: "the frame shows the quilt", put: (way, data) => [
    ...["depth", "throat", "clearance", "bar", "rolled"].filter((name) => data.machine?.[name] !== undefined).map((name) => none("machine", name)),
    ...(way === "one" ? [] : [{ op: "set", path: at(way), value: wide }])] }),
    now === "depth" ? [": the needle reaches ", long(at("depth"), asked.depth, "depth that the needle reaches in the frame", known("depth")), " deep. "] : null,
    now === "throat" ? [": its throat is ", long(at("throat"), asked.throat, "throat of the machine in the frame", known("throat")), ", of which the needle does not reach ", long(at("clearance"), asked.clearance, "part of the throat that the needle does not reach", known("clearance", usualLong(usualPart.clearance))),
      "; from the middle of the bar that takes the quilt up to its skin are ", long(at("bar"), asked.bar, "radius of the bar that takes the quilt up", known("bar", usualLong(usualPart.bar))), ", and the quilt lies ", long(at("rolled"), asked.rolled, "thickness of the quilt on the bar", known("rolled", usualLong(usualPart.rolled))), " thick on it. "] : null,
    now === "one" ? ": say how deep it shows it, and the path goes pass by pass. " : null,
    "It is loaded ", among(at("loaded"), asked.loaded ?? null, [[null, "the quicker way that fits"], ["lengthwise", "lengthwise, its top edge first"], ["sideways", "sideways, its left edge first"]], "how it is loaded"), ", and the frame takes a backing ", long(at("width"), asked.width, "width of a backing that the frame takes", known("width")), " wide. ",
    "Pieces put on after the quilting are fused ", among(at("fuse"), asked.fuse ?? null, [[null, "where that is quicker"], ["in the frame", "in the frame, on a board"], ["out of the frame", "out of the frame"]], "where pieces are fused"), ".");
}

// ---- the way ----

function wayWords(framed) {
  const { data } = app.state;
  const order = data.route?.order ?? null;
  const free = order === "free" || framed || data.route?.anchor !== undefined;
  return [keyed("way", "The path runs in ", among(["route", "order"], order, [[null, "the usual order"], ["taught", "the order that is taught"], ["free", "any order that is quick"]], "order"),
    free && order !== "taught" ? [", seams between blocks, sashing and borders ", among(["route", "anchor"], data.route?.anchor ?? null, [[null, "as is usual for its size"], ["first", "before the rest"], ["mixed", "mixed with the rest"]], "anchoring seams")] : null,
    "; lines may be gone over again ", among(["route", "retrace"], data.route?.retrace ?? "allowed", [["allowed", "where it helps"], ["ditch", "in the ditch alone"], ["never", "nowhere"]], "lines gone over again"),
    ". It begins at ", startWord(data), ". It is to take ", pick({ key: "prices", value: data.prices !== undefined, options: [[false, "little of your time"], [true, "little stitching, by the prices below"]], label: "the path is to take", put: (priced) => [{ op: "set", path: ["prices"], value: priced ? { end_inside: usual().prices?.end_inside ?? 150 } : null }] }), "."),
  data.prices !== undefined ? priceWords(data.prices) : null];
}

function startWord(data) {
  const blocks = app.state.top?.blocks ?? [];
  const corners = blocks.length <= 40 ? blocks.flatMap(({ at }) => ["top left", "top right", "bottom left", "bottom right"].map((corner) => `${at} ${corner}`)) : [];
  if (!corners.length) return worded(["route", "start"], data.route?.start, "where the path begins", { hint: "wherever is best" });
  return among(["route", "start"], data.route?.start ?? null, [[null, "wherever is best"], ...corners], "where the path begins");
}

const PRICES = [["end_inside", "an end inside the top"], ["end_piece", "an end on a line through a piece"], ["end_margin", "an end in the margin"]];
const TIMES = [["travel_margin", "a way in the margin"], ["travel_seam", "a way along a seam"], ["retrace_ditch", "a ditch gone over again"], ["retrace_shown", "a line that shows, gone over again"]];

function priceWords(asked) {
  const one = ([name, words]) => [words, " ", number(["prices", name], asked[name], `price of ${words}`, { hint: String(usual().prices?.[name] ?? "usual") })];
  return keyed("prices", "In millimetres of stitching, ", listed(PRICES.map((price) => [one(price), " mm"])), "; its length times so much: ", listed(TIMES.map(one)), ".");
}

// ---- her pace ----

const STEPS = [["start", "to begin a run and bring the bobbin thread up"], ["end_inside", "to secure an end inside the top"], ["end_trimmed", "to trim one in the margin"], ["pivot", "to stop, needle down, and begin to turn"],
  ["turn_size", "to turn half round, for each metre of the diagonal"], ["turn_roll", "and for each 100 mm that the roll is thick"], ["come_back", "to find your place when you come back"], ["foot", "to change the foot"], ["bobbin", "to change the bobbin"], ["thread", "to change the thread"]];
const FRAMED = [["advance", "to roll the quilt on"], ["baste", "to baste the sides in each pass"], ["clamps", "for the side clamps"], ["load", "to load it into the frame"], ["tension", "to oil the machine and try the tension"], ["unload", "to take the quilt out"], ["fuse", "to fuse in the frame, each time"]];
const WALKED = ["turn_size", "turn_roll", "foot"];

function paceWords(framed) {
  const asked = app.state.data.pace ?? {};
  const known = usual().pace?.[framed ? "frame" : "domestic"] ?? {};
  const steps = framed ? [...STEPS.filter(([name]) => !WALKED.includes(name)), ...FRAMED] : STEPS;
  const parts = lastParts();
  return [
    parts.length ? keyed("last", `In the last path: ${parts.join(", ")}.`) : null,
    keyed("steps", "Seconds ", listed(steps.map(([name, words]) => [words, " ", number(["pace", name], asked[name], `seconds ${words}`, { hint: pale("pace", name, String(known[framed && name === "pivot" ? "still" : name] ?? "usual")) })])), "."),
    byKind(["pace", "speed"], asked.speed, { one: "Stitched in a minute: ", label: "stitched in a minute", hint: byProfile("pace", "speed", (kind) => (kind ? perMinute(known.speed?.[kind]) : "as is usual")), take: (text) => taken(text, app.state.unit), show: (value) => written(value, app.state.unit) }),
    framed ? null : byKind(["pace", "free"], asked.free, { one: "With the free-motion foot: ", label: "stitched in a minute with the free-motion foot", hint: byProfile("pace", "free", (kind) => (asked.speed !== undefined ? "the same" : kind ? perMinute(known.free?.[kind]) : "as is usual")), take: (text) => taken(text, app.state.unit), show: (value) => written(value, app.state.unit) }),
    keyed("time yourself", "What is left open goes by the kind of machine, as the pale figures say. Time yourself: then the minutes are yours.")];
}

/** The pale figure of something that may be told by kind of line. */
const byProfile = (table, name, other) => (kind) => {
  const said = shop(table)[name];
  if (typeof said === "object") return kind ? `${said[kind] ?? other(kind)}` : "as in your profile";
  return said === undefined ? other(kind) : `${said}`;
};

const perMinute = (mm) => (mm === undefined ? "usual" : `${Math.round(mm / MM[app.state.unit === "mm" ? "cm" : app.state.unit])} ${app.state.unit === "mm" ? "cm" : app.state.unit}`);

const split = new Set(); // what she wants to say by kind of line, before she has

/** A figure that is one for all lines, or told by kind of line. */
function byKind(path, value, { one, label, hint, take, show, after = "" }) {
  const key = path.join("/");
  const each = typeof value === "object" || split.has(key);
  const table = typeof value === "object" ? value : {};
  // What stands there when the edit is made, which may be later than when the field was drawn.
  const then = (data) => path.reduce((part, name) => part?.[name], data);
  const field = (kind) => typed({ key: `${key}/${kind ?? "all"}`, value: show(kind ? table[kind] : value), label: kind ? `${label}, ${KIND_WORDS[kind]}` : label, hint: hint(kind), wide: 3, words: (text) => `${label} ${text}`, put: (text, data) => {
    const said = text.trim() ? take(text) : null;
    const now = then(data);
    if (!kind) return [{ op: "set", path, value: said }];
    if (typeof now === "object") {
      const last = said === null && Object.keys(now).every((name) => name === kind);
      return [{ op: "set", path: last ? path : [...path, kind], value: said }];
    }
    const rest = now === undefined ? {} : Object.fromEntries(kinds().map((each) => [each, now]));
    return said === null ? [] : [{ op: "set", path, value: null }, { op: "set", path, value: { ...rest, [kind]: said } }];
  } });
  return keyed(key, one, each ? listed(kinds().map((kind) => [KIND_WORDS[kind], " ", field(kind)])) : field(null), after, ", ", pick({ key: `${key} how`, value: each, options: [[false, "all lines alike"], [true, "each kind of line for itself"]], label: `${label}: for which lines`, words: label, put: (apart, data) => {
    if (apart) split.add(key);
    else split.delete(key);
    render();
    return apart || typeof then(data) !== "object" ? [] : [{ op: "set", path, value: null }];
  } }), ".");
}

function showWords() {
  const asked = app.state.data.looks ?? {};
  const known = usual().looks ?? {};
  const one = (name, words) => number(["looks", name], asked[name], words, { hint: String(known[name] ?? "usual") });
  return keyed("looks", "It is worth ", one("end", "seconds that an end inside the top is worth"), " s to save an end inside the top, and ", one("end_piece", "seconds that an end on a piece is worth"),
    " s to save one on a line through a piece. A line that shows, gone over again, counts ", one("again", "how many times a line that shows counts again"), " times its time more. None of this is time at the machine.");
}

// ---- the stitch, ends, bobbins ----

const share = (value) => (value === undefined ? "" : `${Number((value * 100).toFixed(2))}`);

function percent(name, asked, label) {
  const known = shop("stitching")[name] ?? usual().stitching?.[name];
  return typed({ key: `stitching/${name}`, value: share(asked[name]), label, hint: share(known), wide: 2, mode: "decimal", words: (text) => `${label} ${text} %`, put: (text) => {
    const plain = plainNumber(text.replace(/%\s*$/, ""));
    return [{ op: "set", path: ["stitching", name], value: typeof plain === "number" ? Number((plain / 100).toFixed(6)) : plain }];
  } });
}

function stitchWords() {
  const { data } = app.state;
  const asked = data.stitching ?? {};
  const known = usual().stitching ?? {};
  const at = (name) => ["stitching", name];
  const said = { ...shop("stitching"), ...asked };
  const buried = (said.secure ?? "bury") === "bury";
  const hint = (name) => ({ hint: pale("stitching", name, usualLong(known[name])) });
  const threads = Object.keys(data.threads ?? {});
  return [
    byKind(at("per_inch"), asked.per_inch, { one: "Stitches to the inch: ", label: "stitches to the inch", hint: byProfile("stitching", "per_inch", () => String(known.per_inch ?? "usual")), take: plainNumber, show: (value) => value ?? "" }),
    keyed("ends", "An end inside the top is ", among(at("secure"), said.secure ?? "bury", [["bury", "buried"], ["tie-off", "tied off"]], "an end inside the top is"),
      buried ? [": ", long(at("tail"), asked.tail, "thread left hanging to bury", hint("tail")), " of each thread are left for that. "] : [" with ", number(at("tie_off_stitches"), asked.tie_off_stitches, "small stitches that tie off", { hint: pale("stitching", "tie_off_stitches", String(known.tie_off_stitches ?? "usual")) }), " small stitches in ", long(at("tie_off"), asked.tie_off, "length of the small stitches", hint("tie_off")), ". "],
      "At every other end ", long(at("trimmed"), asked.trimmed, "thread cut off at other ends", hint("trimmed")), " are cut off. Breaks, tests and re-threading take ", percent("waste", asked, "thread lost, in %"), " % more."),
    keyed("bobbins", "Bobbins are ", among(at("bobbin"), said.bobbin ?? "class 15", usual().bobbins ?? ["class 15"], "size of bobbin"), ", ", among(at("wound"), said.wound ?? "machine", [["machine", "wound at the machine"], ["bought", "bought wound"]], "bobbins are wound"),
      ", with ", among(at("bobbin_thread"), asked.bobbin_thread ?? null, [[null, "the thread that is on top"], ...threads.map((name) => [name, `${name} in all of them`])], "thread on the bobbins"), ". Of a full one ", percent("spare", asked, "part of a bobbin kept to spare, in %"), " % are left to be safe."),
    keyed("thick", "What is stitched through is ", long(at("thickness"), asked.thickness, "thickness stitched through", { hint: "as the batting is" }), " thick.")];
}

// ---- cloth and money ----

function chargeWords() {
  const { data } = app.state;
  const asked = data.charges ?? {};
  const known = usual().backing ?? {};
  const one = (name, words) => [words, " ", number(["charges", name], asked[name], `charged for ${words}`, { hint: pale("charges", name, "nothing") })];
  return [
    keyed("backing", "The backing is joined from fabric ", long(["backing", "width"], data.backing?.width, "width of the backing fabric", { hint: usualLong(known.width) }), " wide, with seams of ", long(["backing", "seam"], data.backing?.seam, "seams of the backing", { hint: usualLong(known.seam) }), "."),
    keyed("charges", "Charged, in ", worded(["charges", "currency"], asked.currency, "what money it is", { hint: pale("charges", "currency", "what money") }), ", for ", listed([one("thread", "a metre of thread"), one("batting", "a square metre of batting"), one("backing", "a metre of backing fabric"), one("square_inch", "a square inch of the top quilted")]),
      ", or instead ", one("hour", "an hour at the machine"), ", and ", one("least", "at least this for the quilting"), ".")];
}

/** What else is said of a thread: what it is made of, how it is sold, what it costs. */
export function threadMore(name, thread) {
  const at = (key) => ["threads", name, key];
  const lengths = (text) => text.split(",").map((part) => part.trim()).filter(Boolean);
  return keyed(`more ${name}`, "It is of ", among(at("fibre"), thread.fibre ?? "cotton", usual().fibres ?? ["cotton"], `fibre of ${name}`), ", ", among(at("travel"), thread.travel ?? null, [[null, "travels along seams where it does not show"], [true, "may travel along seams"], [false, "never travels along seams"]], `${name} along seams`),
    ". One bobbin takes ", worded(at("per_bobbin"), thread.per_bobbin, `length of ${name} on a bobbin`, { hint: "as is reckoned" }), "; it is sold on spools of ", worded(at("spools"), (thread.spools ?? []).join(", "), `spools of ${name}`, { hint: "usual lengths", put: (text) => [{ op: "set", path: at("spools"), value: text.trim() ? lengths(text) : null }] }),
    "; a metre costs ", number(at("price"), thread.price, `price of a metre of ${name}`, { hint: "as the rest" }), ".");
}
