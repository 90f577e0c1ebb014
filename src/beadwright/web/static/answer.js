// Answers in place: sends a form of the case sheet, swaps in what moved, and says so to a screen reader.
// Without this file the forms post as usual and the page comes back whole.
import { leaderChange } from "./lib/ranking.js";

const live = document.querySelector("[data-live]");
const sheet = document.querySelector("[data-rerank]");

const leaders = () =>
  [...sheet.querySelectorAll(".causes > li")].map((item) => ({
    name: item.querySelector("h3").textContent,
    chance: item.querySelector(".chance").textContent,
  }));

async function send(form, button) {
  const body = new FormData(form);
  if (button?.name) body.set(button.name, button.value);
  const before = leaders();
  const buttons = form.querySelectorAll("button");
  buttons.forEach((one) => (one.disabled = true));
  const reply = await fetch(form.action, {
    method: "POST",
    body: new URLSearchParams(body),
    headers: { Accept: "text/html; fragment=reranked" },
  });
  if (!reply.ok) {
    // A conflict or a refusal has a page of its own: let the browser show it in the ordinary way.
    form.removeAttribute("data-in-place");
    buttons.forEach((one) => (one.disabled = false));
    form.requestSubmit(button ?? undefined);
    return;
  }
  sheet.innerHTML = await reply.text();
  const revision = sheet.querySelector("input[name=revision]")?.value;
  if (revision) document.querySelectorAll("input[name=revision]").forEach((field) => (field.value = revision));
  live.textContent = leaderChange(before, leaders());
  const heading = sheet.querySelector("#checks-label");
  heading.tabIndex = -1;
  heading.focus({ preventScroll: true });
}

sheet?.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("[data-in-place]")) return;
  event.preventDefault();
  send(form, event.submitter).catch(() => {
    form.removeAttribute("data-in-place");
    form.querySelectorAll("button").forEach((one) => (one.disabled = false));
    live.textContent = "That answer did not get through. Press the button again.";
  });
});
