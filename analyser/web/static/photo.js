// A photo: its palette, the nearest beads, pairs; touching and framing; what stays.
import { $, aboutBead, ask, asked, bars, beadLine, cardQuestion, chip, difference, fill, follow, gaugeKept, h, labText, needs, paint, pairAddress, percent, query, ropeAddress, say, showAsked, stages, thin, trouble } from "./kit.js";

const id = $("photo").dataset.photo;
const frame = $("frame");
const form = $("wishes");
gaugeKept(form);
let told = null; // the photo as the server last told it
let mode = "pick";
let mark = null; // keyboard mark, as parts of the photo
let shownPicture = null;
let wanted = null; // wishes not answered yet; each further one builds on them
let sending = false;

if (matchMedia("(min-width: 60rem)").matches) $("piece").open = true;

const showStage = stages(id, () => waiting);

function show(now) {
  told = now;
  showStage(now);
  $("name").textContent = now.name;
  document.title = `${now.name} · colours`;
  const result = now.result;
  if (!result) return;
  $("work").hidden = false;
  const { even_light, card, no_card } = now.wishes;
  const picture = encodeURIComponent(`${result.calibration.method}${now.provisional}${even_light}${card}${no_card}`);
  if (picture !== shownPicture && !now.provisional) {
    shownPicture = picture;
    $("picture").src = `/api/photos/${id}/picture?${picture}-${now.version}`;
  }
  $("sure").textContent = now.provisional ? "A first look. Corrected colours and pairs follow in a moment." : result.calibration.says;
  if (!now.provisional) cardQuestion(id, result.calibration, now.wishes, redone);
  setForm(now.wishes);
  showMarks();
  showPalette(result, now.provisional);
  if (!now.provisional) showPairs(result, now.wishes);
  showPlan(result.planned, now.wishes);
  $("pairs-note").textContent = now.provisional ? "Being chosen …" : result.pairs.length ? "" : "None with these wishes. The notes at the foot of the page say why.";
  showStays(now.wishes, result);
  $("keep").hidden = now.provisional;
  for (const link of document.querySelectorAll("[data-kind]")) {
    link.href = `/api/photos/${id}/answer.${link.dataset.kind}`;
    link.setAttribute("download", "");
  }
  $("corrected").href = `/api/photos/${id}/corrected.jpg`;
  fill($("notes"), [...new Set([...result.photo.notes, ...result.calibration.notes, ...result.notes])].map((note) => h("li", {}, note)));
}

function redone() {
  shownPicture = null;
  waiting.again();
}

function setForm(wishes) {
  showAsked(form, wishes);
  $("whole").hidden = !wishes.focus && !wishes.mask;
  if (wishes.focus || wishes.mask) $("touch").open = true;
}

function size() {
  return [told.result.photo.width, told.result.photo.height];
}

function showMarks(box = null) {
  const marks = $("marks");
  const [width, height] = size();
  marks.setAttribute("viewBox", `0 0 ${width} ${height}`);
  const unit = width / Math.max(frame.clientWidth, 1);
  const parts = thin(told.result.leaders.flatMap((line) => line.pieces).map(([x, y, to, down]) => `M${(x * width) / 100} ${(y * height) / 100}L${(to * width) / 100} ${(down * height) / 100}`).join(""), unit);
  const focus = box ?? told.wishes.focus?.split(",").map((part, k) => (parseFloat(part) / 100) * (k % 2 ? height : width));
  if (focus) parts.push(...thin(`M${focus[0]} ${focus[1]}h${focus[2]}v${focus[3]}h${-focus[2]}Z`, 2 * unit));
  if (mark) {
    const arm = 12 * unit;
    parts.push(...thin(`M${mark[0] * width - arm} ${mark[1] * height}h${2 * arm}m${-arm} ${-arm}v${2 * arm}`, 1.6 * unit));
  }
  fill(marks, parts);
}
$("picture").addEventListener("load", () => told?.result && showMarks());
addEventListener("resize", () => told?.result && showMarks());

function keepBead(bead) {
  return h("button", { class: "tiny quiet", onclick: () => wish({ keep_bead: bead.id, keep_colour: null }) }, "This one stays", h("span", { class: "hidden" }, ` (${bead.name})`));
}

function colourCard(colour, match, number) {
  const sure = !number && colour.uncertainty_de00 ? `, sure to ±${difference(colour.uncertainty_de00)}` : "";
  const name = colour.name ?? match.colour.name;
  const beads = match.beads.map((bead) => beadLine(bead, [aboutBead(bead), h("br"), bead.says], keepBead(bead)));
  return [
    h("div", { class: "wanted" }, chip(colour, name), h("div", {},
      h("h3", {}, number ? `${number} · ${name}` : name),
      h("p", { class: "small" }, [colour.share ? `${percent(colour.share)} of the photo` : null, colour.hex + sure].filter(Boolean).join(" · ")))),
    h("div", { class: "inside" },
      h("div", { class: "nearest" }, beads[0] ?? h("p", { class: "small" }, "No bead of that size in the drawer.")),
      h("div", {}, match.of_one_bead ? "" : h("p", { class: "small" }, match.says),
      h("details", { class: "small", open: !number }, h("summary", {}, "Others", h("span", { class: "hidden" }, ` for ${name}`)),
        h("div", { class: "nearest" }, beads.slice(1))),
      h("div", { class: "buttons" }, h("button", { class: "tiny", onclick: () => wish({ keep_colour: labText(colour.lab), keep_bead: null }) }, "This colour stays", h("span", { class: "hidden" }, ` (${name})`)),
        h("button", { class: "tiny", onclick: () => wish({ worn_on: labText(colour.lab) }) }, "Worn on this", h("span", { class: "hidden" }, ` (${name})`))))),
  ];
}

function showPalette(result, provisional) {
  $("palette-note").textContent = provisional ? "Provisional: the light of the photo is still being judged." : `${result.colours.length} colours${result.background ? `, and behind them ${result.background.name}` : ""}. The thin strip under the photo shows how much of it each takes.`;
  const named = result.colours.map((colour, k) => ({ ...result.leaders[k], number: k + 1, colour, name: colour.name ?? result.matches[k].colour.name }));
  for (const [where, at_top] of [["above", true], ["below", false]]) {
    const row = named.filter((one) => one.at_top === at_top).sort((one, other) => one.column - other.column);
    $(where).style.setProperty("--n", Math.max(row.length, 1));
    fill($(where), row.map(({ number, colour, name }) => h("li", {}, chip(colour, name), h("span", {}, h("b", {}, number), h("span", { class: "name" }, name)))));
  }
  fill($("shares"), [...result.colours, ...(result.background ? [result.background] : [])].map((colour) => {
    const part = paint(h("i"), colour.css);
    part.style.flexGrow = colour.share;
    return part;
  }));
  fill($("palette"), result.colours.map((colour, k) => h("li", {}, colourCard(colour, result.matches[k], k + 1))));
}

function showPairs(result, wishes) {
  const open = [...document.querySelectorAll("#pairs details[open]")].map((d) => d.dataset.pair);
  fill($("pairs"), result.pairs.map((pair, k) => {
    const { accent, body } = pair.beads;
    const key = `${accent.id}/${body.id}`;
    const more = { motif: wishes.motif, size: wishes.size, cloth: wishes.worn_on?.startsWith("lab:") || wishes.worn_on?.startsWith("#") ? wishes.worn_on : null };
    const afar = h("div", { class: "ropes four" });
    const about = h("details", { "data-pair": key, ontoggle: () => {
      if (about.open && !afar.children.length) {
        fill(afar, [["0.35", "in the hand"], ["0.6", "at arm’s length"], ["1.5", "across a table"], ["4", "across a room"]].map(([metres, says]) =>
          h("figure", {}, h("img", { src: ropeAddress(pair.beads, { ...more, part: "piece", metres }), alt: `The pattern as left ${says}` }), h("figcaption", {}, says))));
      }
    } }, h("summary", {}, `More of pair ${k + 1}`),
      h("div", { class: "two" }, Object.entries(pair.beads).map(([role, bead]) => beadLine(bead, [h("span", {}, `${role}, ${aboutBead(bead)}`)], keepBead(bead)))),
      pair.counted ? h("ul", { class: "notes" }, needs(pair.counted, pair.beads)) : h("p", { class: "small" }, "Say a length to have it counted."),
      pair.worn_on ? h("p", {}, `On what it is worn on: ${pair.worn_on.says}.`) : "", afar, h("dl", { class: "bars" }, bars(pair.bars)),
      h("ul", { class: "notes small" }, [...pair.reasons, ...pair.company.says].map((line) => h("li", {}, line))),
      h("p", { class: "small" }, h("a", { href: pairAddress(pair.beads, { motif: wishes.motif, size: wishes.size, length: wishes.length }) }, "Look at these two closely")));
    if (open.includes(key)) about.open = true;
    const keeping = h("details", {}, h("summary", {}, "Keep", h("span", { class: "hidden" }, ` ${pair.title}`)),
      h("form", { class: "keeping", onsubmit: (event) => keepPair(event, k + 1) },
        h("label", {}, "Name", h("input", { name: "name", required: true, maxlength: 100, autocomplete: "off", placeholder: "such as Quay bracelet" })),
        h("label", {}, "Note", h("input", { name: "note", maxlength: 2000, autocomplete: "off" })),
        [["third", "a third bead"], ["end_bead", "end beads"]].filter(([key]) => pair.company[key]).map(([key, says]) =>
          h("label", { class: "tick" }, h("input", { type: "checkbox", name: "company", value: key.replace("_bead", "") }), `and ${pair.company[key].name} for ${says}`)),
        h("button", {}, "Keep it")));
    return h("li", {},
      h("h3", {}, h("span", { class: "mark" }, k + 1), pair.title),
      h("img", { class: "strip", src: ropeAddress(pair.beads, more), alt: `The rope: ${pair.title}`, width: 860, height: 130 }),
      h("p", { class: "line" }, pair.says),
      about, keeping);
  }));
}

/** The proposed plan: drawn, told, and open to be changed. */
function showPlan(planned, wishes) {
  $("along").hidden = !planned;
  if (!planned) return;
  const same = { motif: wishes.motif, size: wishes.size, length: `${planned.length_mm}mm`, gauge: wishes.gauge };
  const drawn = query({ plan: planned.plan, ...same });
  $("along-title").textContent = planned.title;
  $("along-whole").src = `/api/plan/whole?${drawn}`;
  $("along-close").src = `/api/plan/close?${drawn}`;
  fill($("along-says"), planned.says.map((line) => h("li", {}, `${line[0].toUpperCase()}${line.slice(1)}.`)));
  const ids = planned.series.map((bead) => bead.id);
  const ends = { fade: { from: ids[0], to: ids.at(-1), steps: ids.length, role: planned.role }, bands: { band_role: planned.role, band_1: ids[0], band_2: ids[1], band_3: ids[2] }, middle: { middle_role: planned.role, middle: ids[1], ends: ids[0] } };
  const beside = Object.fromEntries(Object.entries(planned.beside).map(([role, bead]) => [role, bead.id]));
  const series = planned.kind === "fade" ? ids.map((id) => `&series=${encodeURIComponent(id)}`).join("") : "";
  fill($("along-keep"), h("form", { class: "keeping", onsubmit: (event) => keepPair(event, 1, true) },
    h("label", {}, "Name", h("input", { name: "name", required: true, maxlength: 100, autocomplete: "off", placeholder: "such as Quay fade" })),
    h("label", {}, "Note", h("input", { name: "note", maxlength: 2000, autocomplete: "off" })),
    h("button", {}, "Keep it")));
  $("along-change").href = `/plan?${query({ kind: planned.kind, ...same, ...beside, ...ends[planned.kind] })}${series}`;
}

async function keepPair(event, pair, plan = false) {
  event.preventDefault();
  const given = new FormData(event.target);
  const { name, note } = Object.fromEntries(given);
  try {
    const kept = await ask("/api/kept", { method: "POST", json: { photo: id, pair, name, note, company: given.getAll("company"), plan } });
    fill(event.target, h("p", {}, `Kept, in ${kept.file}. `, h("a", { href: "/kept" }, "See what is kept")));
    say(`Kept as ${name}.`);
  } catch (error) {
    say(error.message);
  }
}

function showStays(wishes, result) {
  const on = Boolean(wishes.keep_bead || wishes.keep_colour);
  $("stays").hidden = !on;
  if (!on) return;
  const bead = result.pairs.flatMap((pair) => Object.values(pair.beads)).find((one) => one.id === wishes.keep_bead);
  const colour = result.colours.find((one) => labText(one.lab) === wishes.keep_colour);
  $("stays-says").textContent = `${bead?.name ?? wishes.keep_bead ?? `the ${colour?.name ?? "picked colour"}`} stays: these are the pairs with it.`;
  paint($("stays").querySelector(".flat"), bead?.css ?? colour?.css ?? []);
}

// Wishes: the newest is sent as soon as the one before is answered; those between are passed over.
async function wish(change) {
  wanted = { ...(wanted ?? told.wishes), ...change };
  if (sending) return;
  sending = true;
  let sent = null;
  while (sent !== wanted) {
    sent = wanted;
    try {
      const now = await ask(`/api/photos/${id}/wishes`, { method: "PUT", json: sent });
      if (sent === wanted) show(now);
    } catch (error) {
      if (sent === wanted) {
        trouble(error.message);
        wanted = sent = null;
      }
    }
  }
  wanted = null;
  sending = false;
}

const typed = (field) => ["text", "number"].includes(field.type); // sent when complete
form.addEventListener("input", (event) => typed(event.target) || wish(asked(form)));
form.addEventListener("change", (event) => typed(event.target) && wish(asked(form)));
form.addEventListener("submit", (event) => event.preventDefault());
$("let-go").addEventListener("click", () => wish({ keep_bead: null, keep_colour: null }));
$("whole").addEventListener("click", () => wish({ focus: null, mask: null }));

// Touching and framing
function setMode(now) {
  mode = now;
  frame.classList.toggle("drawing", mode === "box");
  $("pick").setAttribute("aria-pressed", mode === "pick");
  $("frame-it").setAttribute("aria-pressed", mode === "box");
  $("how").textContent = mode === "pick" ? "Touch a spot to pick its colour." : "Draw a box round the subject; what lies outside no longer counts.";
}
$("pick").addEventListener("click", () => setMode("pick"));
$("frame-it").addEventListener("click", () => setMode("box"));

const place = (event) => {
  const seen = $("picture").getBoundingClientRect();
  return [(event.clientX - seen.left) / seen.width, (event.clientY - seen.top) / seen.height].map((v) => Math.min(1, Math.max(0, v)));
};
let from = null;
frame.addEventListener("pointerdown", (event) => {
  if (!told?.result || told.provisional) return;
  from = place(event);
  frame.setPointerCapture(event.pointerId);
});
const boxOf = (a, b) => [Math.min(a[0], b[0]), Math.min(a[1], b[1]), Math.abs(a[0] - b[0]), Math.abs(a[1] - b[1])];
frame.addEventListener("pointermove", (event) => {
  if (!from || mode !== "box") return;
  const [width, height] = size();
  showMarks(boxOf(from, place(event)).map((part, k) => part * (k % 2 ? height : width)));
});
frame.addEventListener("pointerup", (event) => {
  if (!from) return;
  const to = place(event);
  const box = boxOf(from, to);
  const start = from;
  from = null;
  if (mode === "pick") pick(start);
  else if (box[2] > 0.02 && box[3] > 0.02) framed(box);
  else showMarks();
});
frame.addEventListener("pointercancel", () => { from = null; });
frame.addEventListener("keydown", (event) => {
  const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
  if (!told?.result || told.provisional) return;
  if (step) {
    event.preventDefault();
    mark ??= [0.5, 0.5];
    const stride = event.shiftKey ? 0.05 : 0.01;
    mark = mark.map((v, k) => Math.min(1, Math.max(0, v + step[k] * stride)));
    showMarks();
  } else if (event.key === "Enter" && mark) {
    event.preventDefault();
    pick(mark);
  }
});

async function pick(where, top = 3) {
  mark = where;
  showMarks();
  const [width, height] = size();
  try {
    const spot = await ask(`/api/photos/${id}/colour?x=${where[0] * (width - 1)}&y=${where[1] * (height - 1)}&top=${top}`);
    const colour = { ...spot.colour, uncertainty_de00: spot.uncertainty_de00 };
    const more = spot.beads.length < top ? "" : h("p", { class: "buttons" }, h("button", { class: "tiny", onclick: () => pick(where, Math.min(50, top + 6)) }, "More beads near this colour"));
    fill($("spot"), h("div", {}, colourCard(colour, spot, null), more));
  } catch (error) {
    say(error.message);
  }
}

function framed(box) {
  setMode("pick");
  wish({ focus: box.map((part) => `${(part * 100).toFixed(2)}%`).join(",") });
}
$("mask").addEventListener("change", async (event) => {
  const [file] = event.target.files;
  event.target.value = "";
  if (!file) return;
  try {
    show(await ask(`/api/photos/${id}/mask`, { method: "PUT", body: file, headers: { "X-File-Name": encodeURIComponent(file.name) } }));
  } catch (error) {
    say(error.message);
  }
});
$("box").addEventListener("submit", (event) => {
  event.preventDefault();
  framed(["x", "y", "w", "h"].map((name) => Number(event.target.elements[name].value) / 100));
});

const waiting = follow(id, show);
