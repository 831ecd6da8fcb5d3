/** What the page is given about its picture; it stands in the page itself. */
export interface PictureData {
  readonly title: string;
  readonly summary: string;
  readonly credit: string;
  readonly rights: string;
  readonly facts: readonly { readonly label: string; readonly value: string }[];
  /** info.json of the IIIF Image API 3, its id relative to the page. */
  readonly image: ImageInfo;
  readonly overview: string;
  readonly sphere: Sphere | null;
  readonly places: readonly Place[];
}

export interface ImageInfo {
  readonly id: string;
  readonly width: number;
  readonly height: number;
}

/** How the picture lies on the sphere around the camera. */
export interface Sphere {
  readonly projection: "equirectangular" | "cylindrical";
  readonly pxPerDeg: number;
  readonly leftDeg: number;
  readonly topDeg: number;
  /** Whether the right edge meets the left one. */
  readonly fullTurn: boolean;
}

export interface Place {
  readonly name: string;
  readonly note: string;
  readonly region: readonly [number, number, number, number];
}

/** A rectangle in pixels of the whole picture. */
export interface Region {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

export function readData(): PictureData {
  return JSON.parse(element("data").textContent ?? "") as PictureData;
}

/** The element with this id; the template has it, or the page is broken. */
export function element<T extends HTMLElement = HTMLElement>(id: string): T {
  const found = document.getElementById(id);
  if (found === null) throw new Error(`the page has no #${id}`);
  return found as T;
}
