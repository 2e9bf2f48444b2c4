// What a tablet out of reach can say about a number: how it compares with the
// limits beside it, at 20 °C where the part's temperature was typed. Verdicts with the gauge's uncertainty, fits and
// wear are the laptop's to tell.

import { entry, isLength, parse, write } from "./quantity.js";
import { onReach } from "./reach.js";

const form = document.querySelector("form[data-sheet]");
besideWhileAway(form, form ? [...form.querySelectorAll("input[data-unit]")] : [], compare);

// besideWhileAway puts words beside each cell that something was typed in,
// for as long as the laptop is out of reach.
export function besideWhileAway(form, cells, words) {
  if (cells.length === 0) return;
  let away = false;
  const sayAll = () => cells.forEach((cell) => say(cell, cell.value.trim() === "" ? "" : words(cell)));
  form.addEventListener("input", () => { if (away) sayAll(); });
  onReach((there) => {
    away = !there;
    if (away) sayAll();
    else form.querySelectorAll(".beside").forEach((at) => at.remove());
  });
}

// sizeOf is what a cell says in base units; null where it cannot be read.
export function sizeOf(cell) {
  const unit = unitOf(cell);
  const set = form.elements[cell.dataset.set]?.value;
  return entry(cell.value, form.elements.mode?.value ?? "full", unit, bound(cell, "nominal"), set ? parse(set, unit) : null);
}

// farFromLimits tells a size that the laptop takes for a slip of the decimal
// point, as implausible in store/sheet.go does: three times past the limits
// beside it.
export function farFromLimits(cell) {
  const size = sizeOf(cell);
  const bounds = ["new-min", "new-max", "service-min", "service-max"].map((name) => bound(cell, name)).filter((b) => b !== null);
  if (bounds.length === 0) return false;
  const low = bounds.reduce((a, b) => (a < b ? a : b)), high = bounds.reduce((a, b) => (a > b ? a : b));
  return high > 0n && (size > high * 3n || cell.dataset.clearance === undefined && size < low / 3n);
}

// lengths are read in the unit of the sheet's head, all else in its own
function unitOf(cell) {
  return isLength(cell.dataset.unit) && cell.dataset.ownUnit === undefined ? form.elements.unit?.value ?? cell.dataset.unit : cell.dataset.unit;
}

function bound(cell, name) {
  const text = cell.getAttribute("data-" + name);
  return text === null ? null : BigInt(text);
}

// say puts words beside a cell, in place of those that are there.
function say(cell, words) {
  let at = cell.parentElement.querySelector(".beside");
  if (!words) {
    at?.remove();
    return;
  }
  if (!at) {
    at = document.createElement("span");
    at.className = "beside";
    at.setAttribute("role", "status");
    cell.parentElement.append(at);
  }
  if (at.textContent !== words) at.textContent = words;
}

// tight says how a clearance or gap compares with its tight side: the service
// minimum, else the new minimum, else none at all; "" where the other side is
// nearer. It says what wear.AssessClearance says plainly.
function tight(size, service, fresh, most, high, unit) {
  const low = service ?? fresh;
  if (low === null) return size < 0n ? "✕ interference of " + write(-size, unit) : "";
  if (service === null && size >= low && (high === null || most !== null && size > most)) return ""; // worn
  const room = size - low, name = service === null ? "the new minimum" : "the service minimum";
  if (high !== null && high - size < room) return "";
  if (room < 0n) return "✕ " + (size < 0n && low >= 0n ? "interference, " : "") + write(-room, unit) + " tighter than " + name;
  return room === 0n ? "on " + name : write(room, unit) + " looser than " + name;
}

// at20 is a size as the laptop counts it: d / (1 + α (T − 20)), see Count in
// wear/temperature.go.
export function at20(size, celsius, expansion) {
  return BigInt(Math.round(Number(size) / (1 + expansion * (celsius - 20))));
}

// warmth is the temperature that a cell's size is carried from; null for none.
function warmth(cell) {
  const text = form.elements.temperature?.value.trim() ?? "";
  if (cell.dataset.expansion === undefined || !/^[+-]?(\d+\.?\d*|\.\d+)$/.test(text)) return null;
  const celsius = Number(text);
  return celsius >= -60 && celsius <= 150 ? celsius : null;
}

function compare(cell) {
  const read = sizeOf(cell), unit = unitOf(cell);
  if (read === null) return "cannot be read as a number here";
  if (farFromLimits(cell)) return "✕ far from the limits: is the decimal point right?";
  const celsius = warmth(cell);
  if (celsius === null || read <= 0n) return compareSize(cell, read, unit, 2);
  const size = at20(read, celsius, Number(cell.dataset.expansion));
  const words = compareSize(cell, size, unit, 0);
  return words && write(size, unit, 0) !== write(read, unit, 0) ? `${words} (${write(size, unit, 0)} at 20 °C)` : words;
}

function compareSize(cell, size, unit, extra) {
  const low = bound(cell, "service-min"), high = bound(cell, "service-max");
  if (cell.dataset.clearance !== undefined) {
    const said = tight(size, low, bound(cell, "new-min"), bound(cell, "new-max"), high, unit);
    if (said) return said;
  }
  const rooms = [low === null ? null : size - low, high === null ? null : high - size].filter((r) => r !== null);
  if (rooms.length > 0) {
    const room = rooms.reduce((a, b) => (a < b ? a : b));
    if (room < 0n) return "✕ " + write(-room, unit, extra) + " past the service limit";
    if (room === 0n) return "on the service limit";
    return write(room, unit, extra) + " inside the service limit";
  }
  const least = bound(cell, "new-min"), most = bound(cell, "new-max");
  if (least === null && most === null) return "";
  return (least === null || size >= least) && (most === null || size <= most) ? "inside the new limits" : "outside the new limits";
}
