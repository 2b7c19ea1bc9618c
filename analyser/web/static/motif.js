// A motif of the maker's own: begun from one that is there, drawn while it is written, saved beside the list.
import { $, ask, fill, h, say, trouble } from "./kit.js";

const form = $("written");
const text = form.elements.text;
let asked = 0;
let pause;

async function draw() {
  const mine = ++asked;
  let told;
  try {
    told = await ask("/api/motifs/drawn", { method: "POST", json: { text: text.value } });
  } catch (error) {
    if (mine === asked) trouble(error.message);
    return;
  }
  if (mine !== asked) return; // a newer text is on its way
  trouble(null);
  $("fault").textContent = told.fault?.says ?? "";
  text.setAttribute("aria-invalid", Boolean(told.fault));
  if (told.fault) {
    fault(told.fault.line);
    return; // the last good drawing stays
  }
  const { motif } = told;
  $("rope").src = told.rope;
  $("chart").src = URL.createObjectURL(new Blob([told.chart], { type: "image/svg+xml" }));
  $("chart").onload = () => URL.revokeObjectURL($("chart").src);
  $("rope").hidden = $("chart").hidden = false;
  const shares = Object.entries(motif.shares).map(([role, share]) => `${role} ${Math.round(share * 100)} %`).join(", ");
  $("about").textContent = `${motif.title}: ${motif.says}. ${motif.columns} columns; comes back after ${motif.repeats_after} round${motif.repeats_after === 1 ? "" : "s"}; ${shares}.`;
}

/** A way to the line of a fault. */
function fault(line) {
  if (!line) return;
  $("fault").append(" ", h("button", { type: "button", class: "tiny", onclick: () => {
    const before = text.value.split("\n").slice(0, line - 1).join("\n").length + (line > 1 ? 1 : 0);
    text.focus();
    text.setSelectionRange(before, before + text.value.slice(before).split("\n")[0].length);
    text.scrollTop = (line - 4) * parseFloat(getComputedStyle(text).lineHeight);
  } }, `Go to line ${line}`));
}

function show(written) {
  text.value = written;
  draw();
}

async function begin() {
  try {
    const told = await ask(`/api/motifs/${encodeURIComponent($("from").value)}`);
    show(told.own ? told.text : told.text.replace(/^name = ".*"$/m, 'name = "my-motif"').replace(/^title = ".*"$/m, 'title = "My motif"'));
  } catch (error) {
    trouble(error.message);
  }
}

async function save(replace) {
  try {
    const { name, file } = await ask("/api/motifs", { method: "POST", json: { text: text.value, replace } });
    $("replace").hidden = true;
    fill($("saved"), h("p", {}, h("b", {}, `Saved, in ${file}.`), ` Every list of motifs on this page has ${name} now.`));
    say(`${name} is saved.`);
  } catch (error) {
    fill($("saved"), h("p", {}, error.message));
    $("replace").hidden = error.status !== 409;
  }
}

text.addEventListener("input", () => { clearTimeout(pause); pause = setTimeout(draw, 250); });
form.addEventListener("submit", (event) => { event.preventDefault(); save(false); });
$("replace").addEventListener("click", () => save(true));
$("from").addEventListener("change", begin);
$("open").addEventListener("change", async (event) => {
  const [file] = event.target.files;
  if (file) show(await file.text());
  event.target.value = "";
});
begin();
