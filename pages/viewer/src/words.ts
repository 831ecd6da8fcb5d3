import { element, type PictureData, type Place } from "./data";

/** Fill the title plate and the panel about the picture. */
export function fillWords(data: PictureData): void {
  const size = data.facts.find((fact) => fact.label === "Size")?.value;
  const taken = data.facts.find((fact) => fact.label === "Taken")?.value;
  element("plate-facts").textContent = [size, taken].filter(Boolean).join("  ·  ");

  const summary = element("about-summary");
  summary.textContent = data.summary;
  summary.hidden = data.summary === "";
  const list = element("about-facts");
  for (const { label, value } of data.facts) addFact(list, label, value);
  if (data.credit !== "") addFact(list, "Credit", data.credit);
  if (data.rights !== "") addFact(list, "Rights", data.rights);

  const panel = element<HTMLDialogElement>("about");
  element("about-button").addEventListener("click", () => panel.showModal());
  panel.addEventListener("click", (event) => {
    if (event.target === panel) panel.close();
  });
}

function addFact(list: HTMLElement, label: string, value: string): void {
  const term = document.createElement("dt");
  term.textContent = label;
  const words = document.createElement("dd");
  if (/^https?:\/\/\S+$/.test(value)) {
    const link = document.createElement("a");
    link.href = value;
    link.rel = "license noopener";
    link.textContent = value.replace(/^https?:\/\//, "");
    words.append(link);
  } else {
    words.textContent = value;
  }
  list.append(term, words);
}

/** The list of named views, if the picture has any. */
export function fillPlaces(places: readonly Place[], go: (place: Place) => void): void {
  if (places.length === 0) return;
  const button = element<HTMLButtonElement>("places-button");
  const list = element("places");
  button.hidden = false;
  button.addEventListener("click", () => {
    list.hidden = !list.hidden;
    button.setAttribute("aria-expanded", String(!list.hidden));
  });
  for (const place of places) {
    const item = document.createElement("li");
    const visit = document.createElement("button");
    visit.type = "button";
    visit.className = "link";
    visit.textContent = place.name;
    if (place.note !== "") visit.title = place.note;
    visit.addEventListener("click", () => go(place));
    item.append(visit);
    list.append(item);
  }
}

let fading = 0;

/** Say something for a moment, on the screen and to a screen reader. */
export function say(words: string, visibly = true): void {
  const place = element("says");
  place.textContent = words;
  place.classList.toggle("quiet", !visibly);
  window.clearTimeout(fading);
  fading = window.setTimeout(() => {
    place.textContent = "";
  }, 4000);
}
