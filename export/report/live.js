// Only in the page of a cruise whose casts arrive: asks castwright serve whether there is a newer state.

const reload = make("button", { type: "button" }, "Show it");
const newer = notice(reload);
reload.addEventListener("click", () => {
  leaving = true;
  location.reload();
});
const present = document.getElementById("present");
async function ask() {
  if (document.hidden) return;
  let state;
  try {
    state = await (await fetch("./state.json", { cache: "no-store" })).json();
  } catch {
    state = { shown: data.live, text: "castwright serve does not answer; the page stays as it is" };
  }
  if (present.textContent !== state.text) present.textContent = state.text;
  newer(state.shown === data.live ? "" : "A newer state of the cruise is there. Your decisions are kept.");
}
setInterval(ask, 2000);
ask();
