"use strict";
// Shows newer findings in place, and the page of the cruise once it is made.
{
  let last = "";
  async function renew() {
    if (document.hidden) return;
    try {
      const text = await (await fetch("./state.json", { cache: "no-store" })).text();
      if (text === last) return;
      const first = last === "";
      last = text;
      if (first) return;
      if (location.pathname === "/" && JSON.parse(text).shown) { location.reload(); return; }
      const page = new DOMParser().parseFromString(await (await fetch("./findings.html", { cache: "no-store" })).text(), "text/html");
      document.querySelector("main").replaceWith(page.querySelector("main"));
    } catch {
      document.getElementById("text").textContent = "castwright serve does not answer; this is what it said last.";
    }
  }
  setInterval(renew, 2000);
  renew();
}
