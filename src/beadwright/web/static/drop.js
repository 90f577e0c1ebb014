// Files dropped anywhere on the new-case page land in its file field, and are listed with their sizes.
import { sizeWords } from "./lib/sizes.js";

const form = document.querySelector("[data-drop]");
const field = form?.querySelector("input[type=file]");
const list = form?.querySelector("[data-drop-list]");

function show() {
  list.replaceChildren(
    ...[...field.files].map((file) => {
      const item = document.createElement("li");
      item.textContent = `${file.name}, ${sizeWords(file.size)}`;
      return item;
    }),
  );
}

if (form && field) {
  form.querySelector("[data-drop-hint]").hidden = false;
  field.addEventListener("change", show);
  document.addEventListener("dragover", (event) => {
    event.preventDefault();
    form.classList.add("dropping");
  });
  document.addEventListener("dragleave", () => form.classList.remove("dropping"));
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    form.classList.remove("dropping");
    const kept = new DataTransfer();
    [...field.files, ...event.dataTransfer.files].forEach((file) => kept.items.add(file));
    field.files = kept.files;
    show();
  });
}
