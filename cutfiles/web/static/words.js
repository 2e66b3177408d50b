// Figures for people, in the unit of the order.

const MM = { mm: 1, cm: 10, in: 25.4 };
const DECIMALS = { mm: 0, cm: 1, in: 1 };

// The unit of plain numbers in an order; where it says something else, which is told there, millimetres.
export function unitOf({ tables }) {
  const unit = tables?.length_unit;
  return Object.hasOwn(MM, unit) ? unit : "mm";
}

export function length(mm, unit) {
  return `${(mm / MM[unit]).toFixed(DECIMALS[unit])} ${unit}`;
}

// A place or a step, one decimal finer.
export function fine(mm, unit) {
  return `${(mm / MM[unit]).toFixed(DECIMALS[unit] + 1)} ${unit}`;
}

export function percent(share) {
  return `${(100 * share).toFixed(1)} %`;
}

export function clock(seconds) {
  const whole = Math.round(seconds);
  return whole < 60 ? `${whole} s` : `${Math.floor(whole / 60)} min ${whole % 60} s`;
}

export function counted(count, noun) {
  return count === 1 ? `1 ${noun}` : `${count} ${noun}s`;
}

export function whenever(moment) {
  const date = new Date(moment);
  return Number.isNaN(date.valueOf())
    ? String(moment)
    : date.toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" });
}

// "head_girth" as "Head girth".
export function spoken(key) {
  const words = String(key).replaceAll("_", " ");
  return words.charAt(0).toUpperCase() + words.slice(1);
}
