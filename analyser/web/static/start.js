// Photos come in; the list of those that are kept.
import { $, ask, difference, fill, h, paint, query, say, send } from "./kit.js";

const list = $("photos");
const use = list.dataset.use;
const left = new Set(); // ropes that are not to be compared
/** The ropes of a photo as they are asked for: the photo itself, or each by its number. */
const ropesOf = ({ id, verdicts }) => (verdicts?.length === 1 ? [id] : (verdicts ?? []).map((_, k) => `${id}:${k + 1}`));
const verdicts = ({ verdicts }) => (verdicts.length === 1 ? verdicts[0] : verdicts.map((says, k) => `${k + 1}: ${says}`).join(" · "));
const words = { waiting: "waiting its turn", working: "being worked on", done: "done", failed: "could not be used", cancelled: "stopped" };

function take(files) {
  const several = files.length > 1 || use === "rope";
  send(files, use, (photo) => {
    if (several) refresh();
    else location.assign(photo.address);
  });
}

async function refresh() {
  let photos;
  try {
    photos = (await ask("/api/photos")).photos.filter((photo) => photo.use === use);
  } catch (error) {
    say(error.message);
    return;
  }
  $("none").hidden = photos.length > 0;
  $("forget").hidden = photos.length === 0;
  if ($("compare")) $("compare").hidden = $("turned").hidden = photos.flatMap(ropesOf).length < 2;
  fill(list, photos.map((photo) => h("li", {},
    ropesOf(photo).map((rope, k, all) => h("label", { class: "tick" }, h("input", { type: "checkbox", checked: !left.has(rope), onchange: (event) => (event.target.checked ? left.delete(rope) : left.add(rope)), "aria-label": `Compare ${photo.name}${all.length > 1 ? `, rope ${k + 1}` : ""}` }), all.length > 1 ? k + 1 : "")),
    h("a", { href: photo.address }, photo.name),
    h("span", { class: "small" }, photo.state === "failed" ? photo.says : photo.stage || (photo.verdicts ? verdicts(photo) : words[photo.state])),
    ["waiting", "working"].includes(photo.state)
      ? h("button", { class: "tiny", onclick: () => act(photo, "stop") }, "Stop", h("span", { class: "hidden" }, ` ${photo.name}`))
      : h("button", { class: "tiny", onclick: () => act(photo) }, "Forget", h("span", { class: "hidden" }, ` ${photo.name}`)))));
  if (photos.some((photo) => ["waiting", "working"].includes(photo.state))) setTimeout(refresh, 700);
}

async function act(photo, what) {
  await ask(`/api/photos/${photo.id}${what ? `/${what}` : ""}`, { method: what ? "POST" : "DELETE" }).catch((e) => say(e.message));
  refresh();
}

for (const input of [$("choose"), $("shoot")]) {
  input.addEventListener("change", () => { take([...input.files]); input.value = ""; });
}
const intake = $("intake");
addEventListener("dragover", (event) => { event.preventDefault(); intake.classList.add("over"); });
addEventListener("dragleave", () => intake.classList.remove("over"));
addEventListener("drop", (event) => {
  event.preventDefault();
  intake.classList.remove("over");
  if (event.dataTransfer.files.length) take([...event.dataTransfer.files]);
});
addEventListener("paste", (event) => {
  const files = [...(event.clipboardData?.files ?? [])];
  if (files.length) take(files);
});
$("forget").addEventListener("click", async () => {
  await ask("/api/photos", { method: "DELETE" }).catch((e) => say(e.message));
  say("All photos and answers are forgotten; your list is as it was.");
  refresh();
});
$("compare")?.addEventListener("click", async () => {
  const ropes = (await ask("/api/photos")).photos.flatMap(ropesOf).filter((rope) => !left.has(rope));
  if (ropes.length < 2) { say("Tick at least two ropes."); return; }
  const same = $("same-piece").checked;
  const which = `${ropes.map((rope) => query({ photo: rope })).join("&")}${same ? "&same_piece=true" : ""}`;
  try {
    const answer = await ask(`/api/ropes/compared?${which}`);
    const named = (place) => { const one = answer.pieces[place]; return `${one.photo.file}${answer.pieces.filter((other) => other.photo.file === one.photo.file).length > 1 ? `, rope ${one.number}` : ""}`; };
    fill($("compared"), h("p", { class: "verdict" }, `${answer.says[0].toUpperCase()}${answer.says.slice(1)}.`),
      same ? h("ul", { class: "notes" }, answer.pieces.map((one, k) => h("li", {}, `${named(k)}: ${[...one.findings.map((finding) => finding.sentence), ...one.notes].join(" ") || "nothing to report"}`))) : "",
      h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "Each rope against each" }, h("table", {}, h("caption", {}, "Each against each"), h("thead", {}, h("tr", {}, ["Rope", "and", "Side by side", "Difference", "In words"].map((t) => h("th", { scope: "col" }, t)))),
        h("tbody", {}, answer.between.map((one) => h("tr", {}, h("td", {}, named(one.a)), h("td", {}, named(one.b)),
          h("td", {}, h("span", { class: "twin" }, one.sides.map((side) => paint(h("span", { class: "flat", role: "img", "aria-label": side.hex }), side.css)))),
          h("td", { "data-column": "Difference" }, difference(one.de00)), h("td", {}, one.says)))))),
      h("p", { class: "buttons" }, [["html", "One page to print"], ["csv", "Table (CSV)"], ["json", "Data (JSON)"]].map(([kind, name]) => h("a", { class: "button", href: `/api/ropes/compared.${kind}?${which}`, download: true }, name))));
  } catch (error) {
    say(error.message);
  }
});
if ($("list-open")) ask("/api/stock/open").then(({ questions }) => { $("list-open").hidden = !questions; }).catch((e) => say(e.message));
addEventListener("pageshow", refresh);
