// A finished rope's audit, with a close look at each finding.
import { $, ask, asked, cardQuestion, difference, fill, follow, h, labText, numeral, openPlan, paint, percent, query, say, showAsked, stages, thin } from "./kit.js";

const id = $("rope").dataset.photo;
const verdicts = { even: "Even from end to end.", uneven: "Not even." };
const partly = "Check it: not all of it could be judged.";
const small = "Check it: a small change was found.";
const likePlan = "Check it: its colours change along the rope as if planned.";
const kinds = { "lot-change": "Change of lot", "stray-bead": "Stray bead", "plain-round": "Plain round", slack: "Slack tension", "plan-off": "Off the plan" };
const showStage = stages(id, () => waiting);
let piece = null;
let all = null; // every rope of the photo, and what may be one
let chosen = 0;
let shownLight = null;

function show(told) {
  showStage(told);
  $("name").textContent = told.name;
  document.title = `${told.name} · audit`;
  if (!told.result) return;
  all = told.result;
  const { pieces } = all;
  piece = pieces[chosen] ?? pieces[0];
  // Of several ropes one is shown at a time; each button says its verdict.
  fill($("ropes"), pieces.length < 2 ? [] : pieces.map((one, k) => h("button", { class: "tiny", "aria-pressed": String(one === piece), onclick: () => { chosen = k; show(told); } }, `Rope ${one.number}: ${verdict(one)}`)));
  $("audited").hidden = false;
  $("sure").textContent = piece.calibration.says;
  $("verdict").textContent = verdict(piece);
  fill($("unjudged"), [...new Set((all.unjudged ?? []).map((one) => one.sentence))].map((says) => h("p", {}, says)));
  cardQuestion(id, piece.calibration, told.wishes, () => waiting.again());
  const { calibration: by, card, no_card, even_light } = told.wishes;
  const light = `${by}${card}${no_card}${even_light}`;
  if (light !== shownLight) $("picture").src = `/api/photos/${id}/picture?${encodeURIComponent(light)}-${told.version}`;
  shownLight = light;
  marks();
  const side = Math.max(piece.rope.width_px * 2.2, piece.rope.bead_px * 8);
  fill($("findings"), piece.findings.length ? piece.findings.map((finding, k) => h("li", {},
    h("h3", {}, h("span", { class: "mark" }, k + 1), kinds[finding.kind] ?? finding.kind),
    closeUp(finding, side),
    h("p", {}, finding.sentence),
    h("p", { class: "small faint" }, `Sure to ${finding.confidence > 0.99 ? "more than 99 %" : percent(finding.confidence)}${finding.de00 === undefined ? "" : `, difference ${difference(finding.de00)}`}.`)))
    : h("li", {}, h("p", {}, "Nothing to report.")));
  fill($("roles"), piece.roles.map((role) => h("li", { class: "bead" }, paint(h("span", { class: "flat", "aria-hidden": "true" }), role.css), h("span", {}, h("b", {}, role.bead ? `${role.role}, ${role.bead}` : role.role), `${role.hex}, ${percent(role.share)} of what is seen, ${role.beads} beads told apart`), "")));
  fill($("against"), (piece.stock ?? []).map((one) => h("li", {}, one.sentence)));
  fill($("sections"), sections());
  course(told.wishes);
  $("gauge").hidden = !piece.size_says;
  $("gauge-says").textContent = piece.size_says ?? "";
  for (const part of $("gauge").querySelectorAll("label, button")) part.hidden = !piece.gauge;
  showAsked($("wishes"), told.wishes);
  if (["worked_to", "accent", "body", "third", "role", "even_light", "card", "lot_tolerance", "uneven_from"].some((name) => told.wishes[name])) $("wishes").querySelector(".more").open = true;
  for (const link of document.querySelectorAll("[data-kind]")) {
    link.href = `/api/photos/${id}/answer.${link.dataset.kind}`;
    link.setAttribute("download", "");
  }
  $("corrected").href = `/api/photos/${id}/corrected.jpg`;
  fill($("notes"), [...piece.photo.notes, ...piece.calibration.notes, ...piece.notes].map((note) => h("li", {}, note)));
}

/** What looks planned, with a tick to say so; or the stretches of the plan that was told. */
function course(wishes) {
  const asks = piece.looks_planned;
  $("course").hidden = !asks && !wishes.planned;
  $("planned").checked = Boolean(wishes.planned);
  $("course-says").textContent = asks ? `Planned: ${asks.course}` : "Planned: its colours change along the rope as they should";
  const box = $("plan-form").elements.plan;
  if (box !== document.activeElement) box.value = wishes.plan ?? "";
  if (wishes.plan) $("plan-told").open = true;
  fill($("stretches"), piece.planned ? piece.plan.map((part) => h("li", {}, `${along(part.from)} to ${along(part.to)}: ${part.says}`)) : []);
}

/** A place along the rope. */
const along = (part) => `${Math.round(100 * part)} %`;

/** The verdict as a sentence. */
function verdict(one) {
  return verdicts[one.verdict] ?? (one.findings.some((finding) => finding.kind !== "slack") ? small : one.looks_planned ? likePlan : partly);
}

/** A finding enlarged; two buttons go nearer and further. */
function closeUp(finding, side) {
  let now = side;
  const image = h("img", { alt: `Close look at the ${kinds[finding.kind] ?? finding.kind}`, width: 480, height: 480 });
  const look = () => { image.src = `/api/photos/${id}/close-up?x=${finding.pixel[0]}&y=${finding.pixel[1]}&side=${now}`; };
  const by = (factor) => () => { now = Math.min(side * 4, Math.max(side / 4, now * factor)); look(); };
  look();
  return h("div", {}, image, h("p", { class: "buttons" }, h("button", { class: "tiny", onclick: by(0.6) }, "Nearer"), h("button", { class: "tiny", onclick: by(1 / 0.6) }, "Further")));
}

function marks() {
  const { width, height } = piece.photo;
  $("marks").setAttribute("viewBox", `0 0 ${width} ${height}`);
  const unit = width / Math.max($("picture").clientWidth, 1);
  // Each finding is a line from the bead to its number, beside the rope: upwards, where there is room.
  const ends = piece.findings.map(({ pixel: [x, y] }) => ({ x, y, up: (y > 70 * unit ? -52 : 52) * unit }));
  const several = all.pieces.length > 1 || all.unjudged?.length;
  const boxes = (all.unjudged ?? []).map(({ box }) => box);
  fill($("marks"), thin(boxes.map(([x, y, wide, high]) => `M${x} ${y}h${wide}v${high}h${-wide}Z`).join(""), unit),
    several ? all.pieces.map((one) => named(`rope ${one.number}`, one.box, unit)) : [],
    boxes.map((box) => named("not judged", box, unit)),
    thin(`M${piece.rope.centreline.map((point) => point.join(" ")).join("L")}`, unit),
    thin(ends.map(({ x, y, up }) => `M${x} ${y}v${0.78 * up}`).join(""), 1.5 * unit),
    ends.map(({ x, y, up }, k) => numeral(x, y + up, k + 1, unit)));
}

/** A name above a box's left corner, within the photo. */
function named(name, [x, y], unit) {
  const text = numeral(Math.max(x, 4 * unit), Math.max(y - 14 * unit, 10 * unit), name, unit);
  text.style.textAnchor = "start";
  return text;
}
$("picture").addEventListener("load", () => piece && marks());
addEventListener("resize", () => piece && marks());

function sections() {
  const names = [...new Set(piece.roles.map((role) => role.role))];
  return h("table", {}, h("caption", {}, "Along the rope: difference to the whole, light divided out (CIEDE2000), and grey-scale rating"),
    h("thead", {}, h("tr", {}, ["From", "to", ...names].map((name) => h("th", { scope: "col" }, name)))),
    h("tbody", {}, piece.sections.map((part) => h("tr", {}, h("td", {}, along(part.from)), h("td", {}, along(part.to)),
      names.map((name) => h("td", {}, part.roles[name] ? `${difference(part.roles[name].de00)} (${part.roles[name].grey_scale})` : "not seen"))))));
}

// May I go on with this? A touched heap against the rope, or against a touched heap of the old lot.
let touching = null;
let heap = null;
let heapRole = "body";
function touch(what) {
  touching = what;
  for (const name of ["new", "old"]) $(`touch-${name}`).setAttribute("aria-pressed", what === name);
  $("frame").classList.toggle("drawing", Boolean(what));
  if (what) $("frame").scrollIntoView({ block: "center" });
}
for (const name of ["new", "old"]) $(`touch-${name}`).addEventListener("click", () => touch(touching === name ? null : name));
$("frame").addEventListener("click", (event) => {
  if (!touching || !piece) return;
  const seen = $("picture").getBoundingClientRect();
  const at = [(event.clientX - seen.left) / seen.width * piece.photo.width, (event.clientY - seen.top) / seen.height * piece.photo.height];
  goOn(touching, at);
});
$("lot-at").addEventListener("submit", (event) => {
  event.preventDefault();
  const [x, y] = ["x", "y"].map((name) => Number(event.target.elements[name].value.replace(",", ".")) / 100);
  goOn(touching ?? "new", [x * piece.photo.width, y * piece.photo.height]);
});
/** Wishes for a drawn rope whose second half is of the new lot. */
function goingOn(lot) {
  const role = ["accent", "body", "third"].includes(heapRole) ? heapRole : "body";
  const colours = Object.fromEntries(piece.roles.filter((one) => ["accent", "body", "third"].includes(one.role)).map((one) => [one.role, labText(one.lab)]));
  const stretches = `[[stretch]]\nshare = 0.5\n${role} = "${labText(lot.beside.lab)}"\n[[stretch]]\n${role} = "${labText(lot.lab)}"\n`;
  return { motif: $("wishes").elements.motif.value || "chenille", size: "11/0", length: "9cm", ...colours, plan: stretches };
}
async function goOn(what, at) {
  touch(null);
  if (what === "new") heap = at;
  const old = what === "old" ? { old_x: at[0], old_y: at[1] } : {};
  fill($("lot"), h("p", { class: "faint" }, "Looking at the beads …"));
  try {
    const lot = await ask(`/api/ropes/${id}/new-lot?${query({ x: heap[0], y: heap[1], ...old })}`);
    $("touch-old").disabled = false;
    const beside = lot.role === "old lot" ? "the old lot" : `the rope's ${lot.role}`;
    const swatch = (colour, says) => paint(h("span", { class: "flat", role: "img", "aria-label": `${says}, ${colour.hex}` }), colour.css);
    if (lot.role !== "old lot") heapRole = lot.role;
    fill($("lot"), h("p", { class: "verdict" }, `${lot.sentence}.`), h("p", { class: "twin" }, swatch(lot.beside, beside), swatch(lot, "the new lot")),
      h("p", { class: "small faint" }, `Left ${beside} ${lot.beside.hex}, right the new lot ${lot.hex}; below as it would go on.`),
      h("img", { class: "strip", src: `/api/plan/close?${query(goingOn(lot))}`, alt: `Drawn: the rope, the seam, the new lot of the ${heapRole}` }));
  } catch (error) {
    fill($("lot"), h("p", { class: "trouble" }, `${error.message[0].toUpperCase()}${error.message.slice(1)}.`));
  }
  $("lot").scrollIntoView({ block: "nearest" });
}

$("gauge").addEventListener("submit", async (event) => {
  event.preventDefault();
  try {
    const kept = await ask(`/api/ropes/${id}/gauge`, { method: "POST", json: { rope: piece.number, size: event.target.elements.size.value } });
    say(`Kept in ${kept.file} for ${kept.key}: ${kept.gauge}.`);
  } catch (error) {
    say(error.message);
  }
});

async function wish(json) {
  try {
    await ask(`/api/photos/${id}/rope-wishes`, { method: "PUT", json });
    waiting.again();
  } catch (error) {
    say(error.message);
  }
}
$("wishes").addEventListener("submit", (event) => {
  event.preventDefault();
  wish(asked(event.target));
});
$("planned").addEventListener("change", (event) => wish({ planned: event.target.checked }));
$("plan-form").addEventListener("submit", (event) => {
  event.preventDefault();
  wish({ plan: event.target.elements.plan.value.trim() || null });
});
openPlan($("plan-file"), $("plan-form").elements.plan);
$("another").addEventListener("click", async () => {
  try {
    location.assign((await ask(`/api/photos/${id}/another`, { method: "POST" })).address);
  } catch (error) {
    say(error.message);
  }
});

const waiting = follow(id, show);
ask("/api/stock/beads").then(({ beads }) => fill($("beads"), beads.map((bead) => h("option", { value: bead.id }, bead.name)))).catch((e) => say(e.message));
