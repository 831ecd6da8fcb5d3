import type { Sphere } from "./data";

const DEG = Math.PI / 180;

/** `angle` brought into [-180, 180). */
export function wrap180(angle: number): number {
  return ((((angle + 180) % 360) + 360) % 360) - 180;
}

/** Bearing at the column `x`, not wrapped. */
export function bearingAt(sphere: Sphere, x: number): number {
  return sphere.leftDeg + x / sphere.pxPerDeg;
}

export function columnOf(sphere: Sphere, bearingDeg: number): number {
  return (bearingDeg - sphere.leftDeg) * sphere.pxPerDeg;
}

/** Elevation at the row `y`. */
export function elevationAt(sphere: Sphere, y: number): number {
  if (sphere.projection === "equirectangular") return sphere.topDeg - y / sphere.pxPerDeg;
  const tangent = Math.tan(sphere.topDeg * DEG) - (y / sphere.pxPerDeg) * DEG;
  return Math.atan(tangent) / DEG;
}

const STEPS = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 45, 90];

/** Degrees from one named mark of the scale to the next, at least `spacingPx` apart. */
export function markStep(screenPxPerDeg: number, spacingPx: number): number {
  return STEPS.find((step) => step * screenPxPerDeg >= spacingPx) ?? 180;
}

/** Small marks to one named mark. */
export function subdivisions(step: number): number {
  return step === 15 || step === 45 ? 3 : step === 90 ? 6 : 5;
}

/** `angle` as written on the scale; a true minus sign. */
export function degrees(angle: number, step: number): string {
  const decimals = step >= 1 ? 0 : step >= 0.1 ? 1 : 2;
  const wrapped = wrap180(angle) === -180 ? 180 : wrap180(angle);
  const rounded = Number(wrapped.toFixed(decimals));
  const text = Math.abs(rounded).toFixed(decimals);
  return `${rounded < 0 ? "−" : ""}${text}°`;
}
