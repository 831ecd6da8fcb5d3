import { BearingScale } from "./bearings";
import { element, readData, type PictureData } from "./data";
import { Overview } from "./overview";
import { fromFragment, share } from "./share";
import { View } from "./view";
import { fillPlaces, fillWords, say } from "./words";

const ZOOM_STEP = 1.6;
const MOVE_STEP = 0.2;

function start(): void {
  document.documentElement.classList.add("live");
  const data = readData();
  fillWords(data);
  const view = new View(element("picture"), data);
  nameThePicture(view);
  view.viewer.addOnceHandler("open", () => begin(data, view));
  view.viewer.addHandler("open-failed", () => say("The picture could not be opened."));
  view.viewer.addOnceHandler("tile-load-failed", () =>
    say("A part of the picture could not be loaded."),
  );
}

function begin(data: PictureData, view: View): void {
  const { width, height } = data.image;
  const scale =
    data.sphere === null ? null : new BearingScale(data.sphere, view, data.image);
  const overview = new Overview(data, view);
  const draw = (): void => {
    scale?.draw();
    overview.draw();
  };

  const fromAddress = (immediately: boolean): boolean => {
    const asked = fromFragment(location.hash, width, height);
    if (asked !== null) view.show(asked, immediately);
    return asked !== null;
  };
  if (!fromAddress(true)) view.fill();
  view.viewer.addHandler("update-viewport", draw);
  view.viewer.addHandler("resize", draw);
  const busy = (waiting: boolean): void =>
    element("picture").setAttribute("aria-busy", String(waiting));
  const item = view.viewer.world.getItemAt(0);
  item.addHandler("fully-loaded-change", (event) => busy(!event.fullyLoaded));
  busy(!item.getFullyLoaded());
  window.addEventListener("hashchange", () => fromAddress(false));
  draw();

  fillPlaces(data.places, (place) => {
    const [x, y, w, h] = place.region;
    view.show({ x, y, width: w, height: h });
    say(place.note === "" ? place.name : `${place.name}: ${place.note}`);
  });
  connectControls(view);
  connectKeys(view, () => scale?.inWords() ?? "");
}

/** To assistive technology the canvas is one thing that the keyboard moves. */
function nameThePicture(view: View): void {
  const canvas = view.viewer.canvas as HTMLElement;
  canvas.setAttribute("role", "application");
  canvas.setAttribute("aria-roledescription", "zoomable picture");
  canvas.setAttribute("aria-label", element("picture").dataset["alt"] ?? "");
  canvas.setAttribute("aria-describedby", "help");
}

function connectControls(view: View): void {
  element("zoom-in").addEventListener("click", () => view.zoom(ZOOM_STEP));
  element("zoom-out").addEventListener("click", () => view.zoom(1 / ZOOM_STEP));
  element("whole").addEventListener("click", () => view.whole());
  element("share").addEventListener("click", () => {
    void share(view.onPicture(view.region(true))).then((words) => say(words));
  });
  const button = element("full-screen");
  button.hidden = !document.fullscreenEnabled;
  button.addEventListener("click", toggleFullScreen);
  document.addEventListener("fullscreenchange", () => {
    button.setAttribute("aria-pressed", String(document.fullscreenElement !== null));
  });
}

function toggleFullScreen(): void {
  if (!document.fullscreenEnabled) return;
  const change =
    document.fullscreenElement === null
      ? document.documentElement.requestFullscreen()
      : document.exitFullscreen();
  change.catch(() => say("The browser keeps this page in its window."));
}

function connectKeys(view: View, inWords: () => string): void {
  const moves: Record<string, () => void> = {
    ArrowLeft: () => view.move(-MOVE_STEP, 0),
    ArrowRight: () => view.move(MOVE_STEP, 0),
    ArrowUp: () => view.move(0, -MOVE_STEP),
    ArrowDown: () => view.move(0, MOVE_STEP),
    "+": () => view.zoom(ZOOM_STEP),
    "=": () => view.zoom(ZOOM_STEP),
    "-": () => view.zoom(1 / ZOOM_STEP),
    "−": () => view.zoom(1 / ZOOM_STEP),
    "0": () => view.whole(),
    f: toggleFullScreen,
    F: toggleFullScreen,
  };
  let speaking = 0;
  document.addEventListener("keydown", (event) => {
    // Single keys act on the picture only, not while something else has the focus (WCAG 2.1.4).
    const at = document.activeElement;
    const onPicture = at === null || at === document.body || element("picture").contains(at);
    const move = moves[event.key];
    if (!onPicture || move === undefined) return;
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    move();
    window.clearTimeout(speaking);
    speaking = window.setTimeout(() => say(inWords(), false), 800);
  });
}

start();
