// Small things every page needs. Text from files only ever becomes text nodes; no colour is computed here.

const token = document.querySelector('meta[name="page-token"]').content;

export const $ = (id) => document.getElementById(id);

/** An element: h("p", {class: "x", onclick: f}, "text", child, [children]). */
export function h(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== ""));
  return made;
}

/** Fill an element with children, and nothing else. */
export const fill = (element, ...children) => element.replaceChildren(...children.flat().filter(Boolean));

/** Ask the server; throws an Error whose message is its one line. */
export async function ask(address, { method = "GET", json, body, headers = {} } = {}) {
  const sent = { method, headers: { ...headers } };
  if (method !== "GET") sent.headers["X-Page-Token"] = token;
  if (json !== undefined) {
    sent.body = JSON.stringify(json);
    sent.headers["Content-Type"] = "application/json";
  } else if (body !== undefined) {
    sent.body = body;
    sent.headers["Content-Type"] = "application/octet-stream";
  }
  let answer;
  try {
    answer = await fetch(address, sent);
  } catch {
    throw new Error("The program does not answer. Is it still running?");
  }
  const told = await answer.json().catch(() => ({}));
  if (!answer.ok) {
    const error = new Error(told.error?.says ?? `The program answered ${answer.status}.`);
    error.status = answer.status;
    error.kind = told.error?.kind;
    throw error;
  }
  return told;
}

let hush;
/** Say something at the foot of the page, to eyes and screen readers. */
export function say(text) {
  $("says").textContent = text;
  clearTimeout(hush);
  hush = setTimeout(() => { $("says").textContent = ""; }, 6000);
}

export const trouble = (text) => {
  const box = $("trouble");
  box.hidden = !text;
  box.querySelector("p").textContent = text ?? "";
  if ($("again")) $("again").hidden = true;
};

/** Lay a colour on an element: the plainest value first, the last one the browser knows stays. */
export function paint(element, css) {
  for (const value of css ?? []) element.style.backgroundColor = value;
  return element;
}

export const labText = (lab) => `lab:${lab.join(",")}`;

/** The query of an address; a list stands there one by one. */
export const query = (values) =>
  new URLSearchParams(Object.entries(values).flatMap(([name, v]) => [v].flat().map((one) => [name, one])).filter(([, v]) => v !== null && v !== undefined && v !== "")).toString();

const NAMED = ["accent", "body", "third", "end"];
/** The letters of a motif beyond accent, body and third, each with its bead: D=..., as the server takes them. */
const lettered = (beads, says) => Object.entries(beads).filter(([role, bead]) => bead && !NAMED.includes(role) && !role.includes(":")).map(([role, bead]) => `${role}=${says(bead)}`);

const looks = (role, bead) => ({ [role]: labText(bead.lab), [`${role}_finish`]: bead.finish, [`${role}_shape`]: bead.shape ?? "round" });

/** Address of a rope's picture in the colours of its beads, role by role; end beads are drawn where there are. */
export const ropeAddress = (beads, more) =>
  `/api/rope?${query({
    ...Object.assign({}, ...NAMED.filter((role) => beads[role]).map((role) => looks(role, beads[role]))), end_size: beads.end?.size,
    letters: lettered(beads, (bead) => [labText(bead.lab), bead.finish ?? "", bead.shape ?? "round"].join(";")), ...more,
  })}`;

/** Address of the page where the beads of a pair are looked at closely. */
export const pairAddress = (beads, more) =>
  `/pair?${query({ accent: beads.accent.id, body: beads.body.id, third: beads.third?.id, role: lettered(beads, (bead) => bead.id).join(), ...more })}`;

/** A kept colourway, drawn; where it cannot be, that is said. */
export function drawnRope(one, more = {}, says = null, loading = "lazy") {
  const { accent, body, end, ...others } = one.beads;
  if (!accent || !body) return h("p", { class: "small faint" }, "It has no accent and body to draw.");
  // A plan is drawn whole, from a bead to the next.
  const usual = Object.fromEntries(["accent", "body", "third"].map((role) => [role, one.beads[role]?.id]));
  usual.role = lettered(one.beads, (bead) => bead.id).join();
  const along = one.plan && !more.metres ? `/api/plan/whole?${query({ plan: one.plan, motif: one.motif, size: one.size, length: one.length_mm && `${one.length_mm}mm`, gauge: one.gauge, ...usual })}` : null;
  const picture = h("img", { class: more.part ? null : along ? "along" : "strip", src: along ?? ropeAddress({ accent, body, ...others, end: more.part ? null : end }, { motif: one.motif, size: one.size, ...more }), alt: says ?? `The rope of ${one.name}, ${accent.name} on ${body.name}`, width: more.part ? 300 : along ? null : 860, height: along ? null : 130, loading });
  picture.addEventListener("error", () => picture.replaceWith(h("p", { class: "small faint" }, `The motif ${one.motif} is not beside your list any more, so it is not drawn.`)));
  return picture;
}

/** What a form asks for, as the server takes it: a length by what it is, a share from its percent, empty as null. */
export function asked(form) {
  const wishes = {};
  for (const field of form.elements) {
    if (!field.name) continue;
    const text = field.type === "checkbox" ? field.checked : field.value.trim() || null;
    wishes[field.name] = text !== null && NUMBERS.includes(field.name) ? Number(text) : text;
  }
  if (wishes.spare != null) wishes.spare /= 100;
  const { length_is: kind, length, ...others } = wishes;
  if (!kind) return wishes;
  return { ...others, length: null, wrist: null, neck: null, [kind]: length };
}
const NUMBERS = ["colours", "top", "collection", "spare", "plan_steps", "lot_tolerance", "uneven_from"];

/** Put wishes as the server has them into a form, but for the field that is being written in. */
export function showAsked(form, wishes) {
  const kind = ["wrist", "neck", "rounds"].find((name) => wishes[name]) ?? "length";
  const shown = { ...wishes, length_is: kind, length: wishes[kind], spare: wishes.spare == null ? null : Math.round(wishes.spare * 1000) / 10 };
  for (const field of form.elements) {
    if (!field.name || field === document.activeElement) continue;
    if (field.type === "checkbox") field.checked = shown[field.name];
    else field.value = shown[field.name] ?? "";
  }
}

/** The button beside a typed gauge keeps it for the form's motif and bead. */
export const gaugeKept = (form) => form.querySelector("[data-keep-gauge]").addEventListener("click", async () => {
  const wishes = asked(form);
  const told = ["gauge", "motif", "size", "shape", "bead", "accent", "body", "third"].filter((name) => wishes[name]);
  try {
    const kept = await ask("/api/gauges", { method: "POST", json: Object.fromEntries(told.map((name) => [name, wishes[name]])) });
    say(`Kept in ${kept.file} for ${kept.key}: ${kept.gauge}.`);
  } catch (error) {
    say(error.message);
  }
});

/** A pile of beads, for those who see it; its name stands beside it. */
export function pile(bead) {
  if (!bead.lab) return h("span", { class: "unknown" }, "colour not known");
  return h("img", { src: `/api/pile?${query({ colour: labText(bead.lab), finish: bead.finish })}`, alt: "", width: 132, height: 108 });
}

/** A colour as a chip: its pile over a thin strip of the colour itself. */
export const chip = (colour, name) =>
  h("span", { class: "chip", role: "img", "aria-label": `${name}, ${colour.hex}` }, pile(colour), paint(h("i"), colour.css));

/** Pile, name and words of a bead, and what can be done with it. */
export const beadLine = (bead, words, ...doing) =>
  h("div", { class: "bead" }, pile(bead), h("span", {}, h("b", {}, bead.name), words), h("span", {}, doing));

export const aboutBead = (bead) =>
  [bead.size, bead.shape === "round" ? null : bead.shape, bead.finish, bead.lot ? `lot ${bead.lot}` : null].filter(Boolean).join(", ");

export const bars = (list) =>
  list.flatMap((bar) => [
    h("div", {}, h("dt", {}, bar.name), h("dd", {}, h("meter", { min: 0, max: 1, value: bar.part, "aria-label": bar.name }), bar.says)),
  ]);

const MOST_PLAN = 6000;

/** A plan's file, once chosen, as the text of a box. */
export const openPlan = (input, box, then = () => {}) => input.addEventListener("change", async (event) => {
  event.stopPropagation();
  const [file] = input.files;
  input.value = ""; // the same file again is another choice
  if (!file) return;
  const plan = file.size > 4 * MOST_PLAN ? "" : await file.text().catch(() => "");
  if (!plan.trim() || plan.length > MOST_PLAN || plan.includes("\0")) {
    say(`${file.name} is no plan: a plan is a text of up to ${MOST_PLAN} characters`);
    return;
  }
  box.value = plan;
  then();
});

export const percent = (share) => (share < 0.0995 ? `${(share * 100).toFixed(1)} %` : `${Math.round(share * 100)} %`);

/** A colour difference or its doubt with the digits it allows, as analyser/phrases/figures.py has it. */
export const difference = (de00) => (de00 < 2.95 ? de00.toFixed(1) : de00.toFixed(0));

/** What a piece takes of each role, and what is short. */
export function needs(count, beads) {
  return Object.entries(count.with_spare).map(([role, need]) => {
    const held = count.stock?.[role];
    // Of a plan the first bead of a role is kept under the role, the others under their key.
    const bead = beads[role] ?? beads[role.split(":")[0]];
    const name = bead?.name ?? role;
    const have = held?.have;
    let state = bead?.id === null ? "a colour, no bead of your list" : "your list does not say how much you have";
    if (held?.enough) state = `you have at least ${have}`;
    else if (held?.short) state = `you have ${have ?? 0}: ${held.short} short`;
    // The card says what to weigh out: rounded up as a scale shows it, the same figure here.
    const grams = Math.ceil(count.grams[role] * 10 - 1e-6) / 10;
    return h("li", {}, `${name}: `, h("b", {}, `${need} beads`), `, ${grams.toFixed(1)} g with spare; `,
      h("span", { class: held?.short ? "short" : "" }, state), held?.blend ? `. ${held.blend}` : "");
  });
}

/** Send files in one after the other; calls back with each photo's own address. */
export async function send(files, use, taken) {
  for (const file of files) {
    say(`Sending ${file.name || "the photo"} …`);
    try {
      const photo = await ask(`/api/photos?use=${use}`, {
        method: "POST", body: file, headers: { "X-File-Name": encodeURIComponent(file.name || "pasted.png") },
      });
      say("");
      taken(photo, file);
    } catch (error) {
      say(error.message);
    }
  }
}

/** Wait on a photo: calls back at every change until it rests; again() starts waiting anew. */
export function follow(photo, changed) {
  let waiting = false;
  async function wait() {
    if (waiting) return;
    waiting = true;
    let seen = "";
    for (;;) {
      let told;
      try {
        told = await ask(`/api/photos/${photo}${seen === "" ? "" : `?seen=${seen}`}`);
      } catch (error) {
        trouble(error.message);
        break;
      }
      if (told.version !== seen) changed(told);
      seen = told.version;
      if (!["waiting", "working"].includes(told.state)) break;
    }
    waiting = false;
  }
  wait();
  return { again: wait };
}

/** Progress, trouble, stop and try-again of a photo's page. */
export function stages(photo, waiting) {
  $("stop").addEventListener("click", () => ask(`/api/photos/${photo}/stop`, { method: "POST" }).catch((e) => say(e.message)));
  $("again").addEventListener("click", async () => {
    trouble(null);
    await ask(`/api/photos/${photo}/again`, { method: "POST" }).catch((e) => trouble(e.message));
    waiting().again();
  });
  return (told) => {
    const busy = ["waiting", "working"].includes(told.state);
    $("progress").hidden = !busy;
    $("stage").textContent = told.stage ? `${told.stage} …` : "waiting its turn …";
    if (told.state === "failed") trouble(told.says);
    else if (told.state === "cancelled") trouble("Stopped. Nothing was lost.");
    else trouble(null);
    $("again").hidden = !["failed", "cancelled"].includes(told.state);
  };
}

/** What may be a card in a photo: the question, and buttons that answer it; redo is called with the photo then. */
export function cardQuestion(photo, calibration, wishes, redo) {
  const seen = calibration.reference;
  const told = wishes.no_card || wishes.card || wishes.calibration !== "auto";
  const answer = (says, words) => h("button", { onclick: () => {
    say("Reading the photo again …");
    ask(`/api/photos/${photo}/card`, { method: "PUT", json: { says } }).then(() => { say(""); redo(); }, (e) => say(e.message));
  } }, words);
  const again = answer("again", "Let the program judge");
  const lines = told
    ? [wishes.no_card ? "You said that nothing in the photo is a card." : "Corrected by what you said lies in the photo.", [again]]
    : !seen?.says ? null
      // What it was corrected by stands above: there is only the way out to offer.
      : seen.applied ? ["", [answer("no", { cards: "Those are no cards", paper: "That is no white paper" }[seen.kind] ?? "That is no card")]]
      : [seen.says, seen.kind === "paper" ? [answer("paper", "Yes, white paper"), answer("no", "No")]
          : [answer("white", "Yes, white"), answer("grey", "Yes, grey"), answer("no", "No")]];
  $("card").hidden = !lines;
  $("card").classList.toggle("slight", Boolean(lines && !lines[0]));
  if (lines) fill($("card"), h("span", { class: "grows" }, lines[0]), h("span", { class: "buttons" }, lines[1]));
}

export const svg = (tag, attributes) => {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  return made;
};

/** A thin line over a photo that shows on any ground: dark casing, white core; d as of a path. */
export const thin = (d, unit) =>
  [["halo", 2.8], ["ring", 1.2]].map(([name, wide]) => svg("path", { class: name, d, "stroke-width": wide * unit }));

/** A number in a photo, in pixels of the full photo; always the same size on the screen. */
export function numeral(x, y, number, unit) {
  const text = svg("text", { x, y });
  text.style.fontSize = `${14 * unit}px`;
  text.style.strokeWidth = `${3 * unit}px`;
  text.textContent = number;
  return text;
}
