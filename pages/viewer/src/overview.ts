import { element, type PictureData } from "./data";
import type { View } from "./view";

/** The whole picture, small, with a frame around the part in view; drag to look elsewhere. */
export class Overview {
  private readonly box = element("overview");
  private readonly frame = element("overview-view");

  constructor(
    private readonly data: PictureData,
    private readonly view: View,
  ) {
    const picture = element<HTMLImageElement>("overview-picture");
    picture.src = data.overview;
    this.box.style.aspectRatio = `${data.image.width} / ${data.image.height}`;
    this.box.addEventListener("pointerdown", (event) => {
      this.box.setPointerCapture(event.pointerId);
      this.lookAt(event);
      event.preventDefault();
    });
    this.box.addEventListener("pointermove", (event) => {
      if (this.box.hasPointerCapture(event.pointerId)) this.lookAt(event);
    });
  }

  draw(): void {
    const { width, height } = this.data.image;
    const shown = this.view.onPicture(this.view.region());
    const style = this.frame.style;
    style.left = `${(shown.x / width) * 100}%`;
    style.top = `${(shown.y / height) * 100}%`;
    style.width = `${(shown.width / width) * 100}%`;
    style.height = `${(shown.height / height) * 100}%`;
  }

  private lookAt(event: PointerEvent): void {
    const box = this.box.getBoundingClientRect();
    const { width, height } = this.data.image;
    const x = ((event.clientX - box.left) / box.width) * width;
    const y = ((event.clientY - box.top) / box.height) * height;
    this.view.centreOn(Math.min(width, Math.max(0, x)), Math.min(height, Math.max(0, y)));
  }
}
