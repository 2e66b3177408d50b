// The preview as a page of its own.

import { openLay } from "./lay_view.js";

for (const section of document.querySelectorAll("section.lay")) openLay(section);
const look = document.querySelector("#look");
look.parentElement.hidden = false;
look.addEventListener("change", () => {
  document.documentElement.dataset.look = look.value;
});
