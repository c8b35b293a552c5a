// Elements made from words, and a page brought up to date in place.
//
// A part of the page is made anew from what is known, then laid over what stands there: only what
// differs is touched. So the field she is in keeps its focus, its caret and what she has typed.

const SVG = "http://www.w3.org/2000/svg";

/** Make an element. Children that are null or false are left out; names are always text. */
export function h(tag, props, ...children) {
  return dress(document.createElement(tag), props, children);
}

/** The same for drawings. */
export function s(tag, props, ...children) {
  return dress(document.createElementNS(SVG, tag), props, children);
}

function dress(element, props, children) {
  for (const [name, value] of Object.entries(props ?? {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name === "on") element.heard = value;
    else if (name === "key") element.key = String(value);
    else if (name === "vars") for (const [v, to] of Object.entries(value)) element.style.setProperty(v, to);
    else if (name === "value") {
      element.fresh = String(value);
      element.value = element.fresh;
      if (element.localName === "input") element.setAttribute("value", element.fresh);
    } else if (name === "checked" || name === "selected") element[name] = true;
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.flat(4).filter((child) => child !== null && child !== undefined && child !== false));
  if (element.localName === "select" && element.fresh !== undefined) element.value = element.fresh;
  return element;
}

/** Bring an element to be like a new one, touching only what differs. */
export function lay(old, made) {
  old.heard = made.heard;
  old.key = made.key;
  // What is folded or open is her own, and so is what lies on the quilt.
  // A style is set by its properties: as an attribute the policy of the page would refuse it.
  if (old.style && old.style.cssText !== made.style.cssText) old.style.cssText = made.style.cssText;
  const hers = (name) => name === "style" || (name === "open" && old.localName === "details");
  for (const { name } of [...old.attributes]) if (!made.hasAttribute(name) && !hers(name)) old.removeAttribute(name);
  for (const { name, value } of made.attributes) {
    if (old.getAttribute(name) !== value && !hers(name)) old.setAttribute(name, value);
  }
  if (old.dataset?.own !== undefined) return;
  if (old.localName !== "select") layChildren(old, [...made.childNodes]);
  else if (old.textContent !== made.textContent || [...old.options].some((o, k) => o.value !== made.options[k]?.value)) {
    old.replaceChildren(...made.childNodes);
  }
  if (made.fresh !== undefined) {
    // What she is typing stays; what has come back from the design takes the place of the rest.
    const typing = old === document.activeElement && old.value !== old.fresh && made.fresh === old.fresh;
    if (!typing && old.value !== made.fresh) old.value = made.fresh;
    old.fresh = made.fresh;
  }
  if (old.localName === "input" && old.checked !== made.checked) old.checked = made.checked;
}

const mark = (node) => node.key ?? (node.id || null);

function layChildren(old, made) {
  const kept = new Map();
  for (const child of old.childNodes) if (mark(child) !== null) kept.set(mark(child), child);
  let at = old.firstChild;
  for (const child of made) {
    const same = mark(child) === null ? at : kept.get(mark(child));
    const fits = same && same.nodeName === child.nodeName && mark(same) === mark(child);
    if (!fits) {
      old.insertBefore(child, at);
      continue;
    }
    if (same !== at) old.insertBefore(same, at);
    else at = at.nextSibling;
    if (same.nodeType === Node.TEXT_NODE) {
      if (same.data !== child.data) same.data = child.data;
    } else lay(same, child);
  }
  while (at) {
    const next = at.nextSibling;
    at.remove();
    at = next;
  }
}

/** Put the children of an element in place of what stands there. */
export function fill(host, ...children) {
  const made = children.flat(4).filter((child) => child !== null && child !== undefined && child !== false);
  layChildren(host, made.map((child) => (child instanceof Node ? child : document.createTextNode(child))));
}

/** Hear events once for the whole page, and hand them to what was made with `on`. */
export function listen(root) {
  for (const type of ["click", "change", "input", "keydown", "submit", "focusin", "pointerover", "pointerout"]) {
    root.addEventListener(type, (event) => {
      for (let node = event.target; node && node !== root; node = node.parentNode) {
        if (node.heard?.[type]?.(event, node) === false) return;
      }
    });
  }
}

/** Say something to who listens to the page. */
export function tell(words, alarm = false) {
  const place = document.getElementById(alarm ? "alarm" : "told");
  place.textContent = place.textContent === words ? `${words}\u00a0` : words;
}

/** A sentence as it is read: of a word that is chosen, what was chosen; of an open one, what is usual. */
export function spoken(node) {
  if (!node) return "";
  if (node.localName === "select") return node.selectedOptions[0]?.textContent ?? "";
  if (node.localName === "input") return node.value || node.placeholder;
  return node.childNodes.length ? [...node.childNodes].map(spoken).join("") : node.nodeType === Node.TEXT_NODE ? node.data : "";
}

/** Whether motion is to be kept down. */
export const still = () => matchMedia("(prefers-reduced-motion: reduce)").matches;
