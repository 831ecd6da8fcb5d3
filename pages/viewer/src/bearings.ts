import { element, type Sphere } from "./data";
import { bearingAt, columnOf, degrees, elevationAt, markStep, subdivisions, wrap180 } from "./sphere";
import type { View } from "./view";

const NAMED_PX = 96;

/** The scale along the top edge: bearings where they are in the view. */
export class BearingScale {
  private readonly canvas = element<HTMLCanvasElement>("bearing-scale");
  private readonly reading = element("reading");

  constructor(
    private readonly sphere: Sphere,
    private readonly view: View,
    private readonly picture: { readonly width: number; readonly height: number },
  ) {
    element("bearings").hidden = false;
    matchMedia("(prefers-color-scheme: light)").addEventListener("change", () => this.draw());
  }

  /** What the middle of the view looks at, in words. */
  inWords(): string {
    const { bearing, elevation, across } = this.looking(true);
    return `Bearing ${degrees(bearing, 0.1)}, elevation ${degrees(elevation, 0.1)}, ${across} across.`;
  }

  draw(): void {
    const { bearing, elevation, across } = this.looking(false);
    const upDown = elevation >= 0 ? "+" : "";
    this.reading.textContent = [
      `bearing ${degrees(bearing, 0.1)}`,
      `elevation ${upDown}${degrees(elevation, 0.1)}`,
      `${across} across`,
    ].join("  ·  ");
    this.drawMarks();
  }

  private looking(settled: boolean): { bearing: number; elevation: number; across: string } {
    const region = this.view.region(settled);
    const y = Math.min(this.picture.height, Math.max(0, region.y + region.height / 2));
    const width = region.width / this.sphere.pxPerDeg;
    return {
      bearing: wrap180(bearingAt(this.sphere, region.x + region.width / 2)),
      elevation: elevationAt(this.sphere, y),
      across: degreesWide(Math.min(360, width)),
    };
  }

  private drawMarks(): void {
    const { canvas, sphere } = this;
    const ratio = devicePixelRatio;
    const width = canvas.clientWidth;
    const height = canvas.clientHeight;
    if (width === 0) return;
    canvas.width = Math.round(width * ratio);
    canvas.height = Math.round(height * ratio);
    const pen = canvas.getContext("2d");
    if (pen === null) return;
    const style = getComputedStyle(canvas);
    pen.scale(ratio, ratio);
    pen.strokeStyle = pen.fillStyle = style.color;
    pen.font = `${style.fontSize} ${style.fontFamily}`;
    pen.textAlign = "center";
    pen.textBaseline = "top";

    const region = this.view.region();
    const screenPerPx = width / region.width;
    const step = markStep(sphere.pxPerDeg * screenPerPx, NAMED_PX);
    const parts = subdivisions(step);
    const small = step / parts;
    const first = Math.floor(bearingAt(sphere, region.x) / small);
    const last = Math.ceil(bearingAt(sphere, region.x + region.width) / small);
    for (let mark = first; mark <= last; mark += 1) {
      const column = columnOf(sphere, mark * small);
      if (!this.view.fullTurn && (column < -0.5 || column > this.picture.width + 0.5)) continue;
      const x = (column - region.x) * screenPerPx;
      const named = mark % parts === 0;
      pen.globalAlpha = named ? 0.95 : 0.5;
      pen.lineWidth = 1;
      pen.beginPath();
      pen.moveTo(Math.round(x) + 0.5, 0);
      pen.lineTo(Math.round(x) + 0.5, named ? 9 : 5);
      pen.stroke();
      if (named) pen.fillText(degrees(mark * small, step), x, 13);
    }
  }
}

function degreesWide(width: number): string {
  return `${width >= 10 ? width.toFixed(0) : width >= 1 ? width.toFixed(1) : width.toFixed(2)}°`;
}
