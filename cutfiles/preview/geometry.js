// Path data as the page has it, and measures for people.

/** The subpaths of data in whole hundredths of a millimetre: "M x y l dx dy … z". */
export function subpaths(data) {
  return data.match(/M[^M]*/g) ?? [];
}

const DECIMALS = { mm: 1, cm: 2, in: 2 };

/** A length in the unit of the job: "12.34 in". */
export function asLength(mm, lay) {
  return `${(mm / lay.mm_per_unit).toFixed(DECIMALS[lay.unit])} ${lay.unit}`;
}

/** An area in square inches or square centimetres. */
export function asArea(mm2, lay) {
  return lay.unit === "in" ? `${(mm2 / 645.16).toFixed(1)} in²` : `${(mm2 / 100).toFixed(1)} cm²`;
}

/** A time: "2 h 5 min", "3 min 20 s", "0.8 s". */
export function asTime(seconds) {
  if (seconds < 10) return `${seconds.toFixed(1)} s`;
  const whole = Math.round(seconds);
  if (whole >= 3600) return `${Math.floor(whole / 3600)} h ${Math.floor((whole % 3600) / 60)} min`;
  return whole >= 60 ? `${Math.floor(whole / 60)} min ${whole % 60} s` : `${whole} s`;
}

/** An element of SVG with its attributes. */
export function drawn(name, attributes) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
}
