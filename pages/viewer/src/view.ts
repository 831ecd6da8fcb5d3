import OpenSeadragon from "openseadragon";
import type { PictureData, Region } from "./data";

export const calm = (): boolean => matchMedia("(prefers-reduced-motion: reduce)").matches;

/** The zoomable picture, spoken to in pixels of the whole picture. */
export class View {
  readonly viewer: OpenSeadragon.Viewer;
  readonly fullTurn: boolean;
  private readonly data: PictureData;

  constructor(place: HTMLElement, data: PictureData) {
    this.data = data;
    this.fullTurn = data.sphere?.fullTurn ?? false;
    keepOutInjectedStyle();
    this.viewer = OpenSeadragon({
      element: place,
      // The ids in the documents are absolute; the tiles are found beside the page.
      tileSources: {
        ...data.image,
        id: new URL(data.image.id, document.baseURI).href,
      } as unknown as OpenSeadragon.TileSourceOptions,
      // Pictures from the file system taint a canvas: it can still show them, WebGL cannot.
      drawer: "canvas",
      wrapHorizontal: this.fullTurn,
      showNavigationControl: false,
      keyboardNavEnabled: false,
      animationTime: calm() ? 0 : 0.9,
      blendTime: calm() ? 0 : 0.15,
      springStiffness: 7.5,
      minZoomImageRatio: 0.8,
      maxZoomPixelRatio: 2.5,
      // The detour over a second canvas leaves the last pixels of the window empty.
      smoothTileEdgesMinZoom: Infinity,
      visibilityRatio: 0.6,
      constrainDuringPan: true,
      zoomPerScroll: 1.35,
      imageLoaderLimit: 8,
      timeout: 60_000,
      gestureSettingsMouse: { clickToZoom: false, dblClickToZoom: true },
      gestureSettingsTouch: { dblClickToZoom: true, flickEnabled: !calm() },
    });
  }

  /** Where the picture is now; `settled`: where it is moving to. */
  region(settled = false): Region {
    const { width } = this.data.image;
    const bounds = this.viewer.viewport.getBounds(!settled);
    return {
      x: bounds.x * width,
      y: bounds.y * width,
      width: bounds.width * width,
      height: bounds.height * width,
    };
  }

  /** The part of `region` that lies on the picture. */
  onPicture(region: Region): Region {
    const { width, height } = this.data.image;
    const x = this.fullTurn ? (((region.x % width) + width) % width) : Math.max(0, region.x);
    const y = Math.max(0, region.y);
    const right = this.fullTurn ? x + Math.min(width, region.width) : region.x + region.width;
    const bottom = Math.min(height, region.y + region.height);
    return {
      x,
      y,
      width: Math.max(1, (this.fullTurn ? right : Math.min(width, right)) - x),
      height: Math.max(1, bottom - y),
    };
  }

  show(region: Region, immediately = calm()): void {
    const { width } = this.data.image;
    const { viewport } = this.viewer;
    const bounds = new OpenSeadragon.Rect(
      region.x / width,
      region.y / width,
      region.width / width,
      region.height / width,
    );
    viewport.fitBounds(bounds, immediately);
    viewport.applyConstraints(immediately);
  }

  whole(immediately = calm()): void {
    const { width, height } = this.data.image;
    this.show({ x: 0, y: 0, width, height }, immediately);
  }

  /** Fill the window with the middle of the picture. */
  fill(): void {
    const { width, height } = this.data.image;
    const window = this.viewer.viewport.getAspectRatio();
    const shown = Math.min(width, height * window);
    const high = shown / window;
    this.show({ x: (width - shown) / 2, y: (height - high) / 2, width: shown, height: high }, true);
  }

  zoom(factor: number): void {
    this.viewer.viewport.zoomBy(factor, undefined, calm());
    this.viewer.viewport.applyConstraints(calm());
  }

  /** Move by shares of the window. */
  move(right: number, down: number): void {
    const { viewport } = this.viewer;
    const bounds = viewport.getBounds(false);
    const by = new OpenSeadragon.Point(right * bounds.width, down * bounds.height);
    viewport.panBy(by, calm());
    viewport.applyConstraints(calm());
  }

  centreOn(x: number, y: number): void {
    const { viewport } = this.viewer;
    const { width } = this.data.image;
    viewport.panTo(new OpenSeadragon.Point(x / width, y / width), true);
    viewport.applyConstraints(true);
  }
}

/**
 * OpenSeadragon adds a style element unless there is one with this mark. The page's content
 * security policy forbids it, so give it one that is no style of HTML's and says nothing.
 */
function keepOutInjectedStyle(): void {
  const mark = document.createElementNS(null, "style");
  mark.setAttribute("data-openseadragon-mobile-css", "true");
  document.head.append(mark);
}
