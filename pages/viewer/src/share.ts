import type { Region } from "./data";

/** The view as a media fragment (W3C Media Fragments URI 1.0, section 4.2.2), whole pixels. */
export function toFragment(view: Region): string {
  return `#xywh=${[view.x, view.y, view.width, view.height].map(Math.round).join(",")}`;
}

/** The view a fragment asks for; null where it asks for none, or for none of this picture. */
export function fromFragment(hash: string, width: number, height: number): Region | null {
  const found = /^#xywh=(?:pixel:)?(\d{1,9}),(\d{1,9}),(\d{1,9}),(\d{1,9})$/.exec(hash);
  if (found === null) return null;
  const [x, y, w, h] = found.slice(1).map(Number) as [number, number, number, number];
  if (w < 1 || h < 1 || x >= width || y >= height) return null;
  return { x, y, width: w, height: Math.min(h, height - y) };
}

/** Put the view into the address bar and, where the browser allows, on the clipboard. */
export async function share(view: Region): Promise<string> {
  const address = new URL(location.href);
  address.hash = toFragment(view);
  history.replaceState(null, "", address.hash);
  try {
    await navigator.clipboard.writeText(address.href);
    return "A link to this view is on the clipboard.";
  } catch {
    return "The address bar holds a link to this view.";
  }
}
