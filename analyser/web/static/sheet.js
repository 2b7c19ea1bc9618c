// The photo sheet: its addresses follow what is chosen; a photo of it has its paper learnt.
import { $, ask, asked, fill, h, paint, query } from "./kit.js";

const form = $("which");
function address() {
  for (const kind of ["pdf", "png"]) $(kind).href = `/api/sheet/photo-sheet.${kind}?${query(asked(form))}`;
}
form.addEventListener("change", address);
address();

$("learn").addEventListener("submit", (event) => event.preventDefault());
$("learn-photo").addEventListener("change", async (event) => {
  const [file] = event.target.files;
  event.target.value = "";
  if (!file) return;
  fill($("learnt"), h("span", { class: "faint" }, "Looking at the sheet …"));
  try {
    const { learnt, answered_anew: again } = await ask(`/api/sheet/paper?${query(asked($("learn")))}`, { method: "POST", body: file, headers: { "X-File-Name": encodeURIComponent(file.name) } });
    fill($("learnt"), h("span", { class: "twin" }, paint(h("span", { class: "flat", role: "img", "aria-label": learnt.hex }), learnt.css)), ` Paper ${learnt.name} is learnt: ${learnt.hex} beside a white card.${again.length ? ` Photos on this paper are answered anew: ${again.join(", ")}.` : ""}`);
  } catch (error) {
    fill($("learnt"), h("span", { class: "trouble" }, error.message));
  }
});
