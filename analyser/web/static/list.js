// What the list leaves open, asked once; how it is read; its faults by kind, each with one mend for all.
import { $, ask, fill, h, say, trouble } from "./kit.js";

let again = () => {};
/** Told what to do when the list is read otherwise than before. */
export const whenAgreed = (look) => { again = look; };

export function showReading({ questions, agreed, groups, faults, writable }, cell) {
  $("open").hidden = !questions.length;
  fill($("questions"), questions.map(question));
  $("read-as").hidden = !agreed.length;
  fill($("agreed"), agreed.map((one) => h("li", {}, one.says, " ",
    h("button", { class: "tiny", onclick: () => agree(one.kind, null) }, "Forget this", h("span", { class: "hidden" }, ` (${one.says})`)))));
  $("faulty").hidden = !faults.length;
  fill($("groups"), groups.map((group) => h("li", {}, group.says, group.takes.length ? mends(group) : group.mend ? `; ${group.mend}` : "")));
  const open = $("rows").open;
  $("rows-title").textContent = `Row by row (${faults.length})`;
  const rows = () => fill($("faults"), faults.map((fault) => h("li", {}, `row ${fault.row}${fault.column ? `, ${fault.column}` : ""}: “${fault.value}” ${fault.says}; ${fault.mend}`,
    fault.column && writable ? cell(fault.row, fault.column, fault.value) : "")));
  $("rows").ontoggle = () => $("rows").open && rows();
  if (open) rows();
}

function question(one) {
  return h("fieldset", {}, h("legend", {}, one.says),
    h("p", { class: "buttons" }, one.choices.map((choice) => h("button", { onclick: () => agree(one.kind, choice.value) }, choice.says))));
}

/** One mend for all: of bare numbers their unit, of dates whether they are sizes, of words what they are read as. */
function mends(group) {
  if (group.takes[0] === "unit") return taking("Take them all as", "unit", ["grams", "beads", "strands", "hanks", "tubes", "unknown"]);
  if (group.takes[0] === "dates") return h("p", { class: "buttons" }, h("button", { class: "tiny", onclick: () => agree("dates", "sizes") }, "They are the sizes they were typed as"));
  return group.takes.slice(0, 6).map((take) => taking(`Read “${take.slice(take.indexOf(":") + 1)}” as`, take));
}

function taking(says, kind, choices) {
  const field = choices ? h("select", {}, choices.map((value) => h("option", {}, value))) : h("input", { autocomplete: "off" });
  return h("form", { class: "taking", onsubmit: (event) => { event.preventDefault(); if (field.value.trim()) agree(kind, field.value.trim()); } },
    h("label", {}, says, field), h("button", { class: "tiny" }, "All of them", h("span", { class: "hidden" }, `: ${says}`)));
}

async function agree(kind, value) {
  try {
    await ask("/api/stock/agreed", { method: "POST", json: { kind, value } });
    trouble(null);
    say(value === null ? "Forgotten; your list is read as it stands." : "Kept beside your list, which stays as it is.");
  } catch (error) {
    trouble(error.message);
    $("trouble").scrollIntoView({ block: "center" });
  }
  await again();
}
