// What a tablet out of reach can say about a leak test: how far each reading is
// above or below the rules on the sheet, exactly, in ten-thousandths of a psi.
// Verdicts with the gauges' uncertainty and the leak area are the laptop's to
// tell: see JudgeLeak in wear/leak.go, and the test that holds the two against
// each other.

import { besideWhileAway } from "./beside.js";
import { parse } from "./quantity.js";

const form = document.querySelector("form[data-sheet]");
const rules = [...document.querySelectorAll("[data-rule]")].map((line) => line.dataset);
besideWhileAway(form, form ? [...form.querySelectorAll("[name^=psi-], [name^=warm-]")] : [], (cell) => words(cell.value));

function words(text) {
  const reading = pressure(text), regulated = pressure(form.elements.regulated.value);
  if (reading === null) return "cannot be read as a pressure here";
  if (regulated === null) return "the regulated pressure is missing";
  if (reading > regulated) return "more than the regulated pressure";
  return rules.map((rule) => beside(rule, reading, regulated)).join("; ");
}

function beside(rule, reading, regulated) {
  const orifice = parse(form.elements.orifice.value, "in");
  if (rule.orifice !== undefined && orifice === null) return rule.rule + " asks for the orifice, which is missing";
  if (!fits(rule.orifice, orifice) || !fits(rule.regulated, regulated)) return rule.rule + " is for another orifice or pressure";
  const room = above(rule, reading, regulated);
  if (room === 0n) return "just what " + rule.rule + " asks for";
  return room > 0n ? psi(room) + " psi above " + rule.rule : "✕ " + psi(-room) + " psi below " + rule.rule;
}

function fits(bound, value) { return bound === undefined || value !== null && BigInt(bound) === value; }

// above is how far a reading is above what a rule asks for, in ten-thousandths
// of a psi; readings are in tenths.
export function above(rule, reading, regulated) {
  const least = [];
  if (rule.minimum !== undefined) least.push(BigInt(rule.minimum) * 1000n);
  if (rule.maxLoss !== undefined) least.push(regulated * (1000n - BigInt(rule.maxLoss)));
  return reading * 1000n - least.reduce((a, b) => (a > b ? a : b));
}

// pressure reads psi in tenths; null for anything that the laptop would refuse.
export function pressure(text) {
  const value = parse(text, "psi"), tenth = 100000n;
  return value === null || value < 0n || value % tenth !== 0n || value > 3000n * tenth ? null : value / tenth;
}

// psi writes ten-thousandths of a psi.
function psi(room) {
  const text = room.toString().padStart(5, "0");
  return (text.slice(0, -4) + "." + text.slice(-4)).replace(/\.?0+$/, "");
}
