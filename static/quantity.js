// Quantities as the book keeps them: whole base units (nanometres, micrograms,
// micronewtons, millionths), as BigInt, so that a comparison with a limit is
// exact. It reads a number as the program on the laptop does: see ParseValue
// in wear/quantity.go and readEntry in server/entry.go, and the test that
// holds the two against each other.

// Base units in one of the unit, as a fraction: exact by definition.
const units = new Map(Object.entries({
  "in": ["length", 25400000n, 1n], "mm": ["length", 1000000n, 1n], "µm": ["length", 1000n, 1n],
  "g": ["mass", 1000000n, 1n], "kg": ["mass", 1000000000n, 1n], "oz": ["mass", 28349523125n, 1000n], "lb": ["mass", 453592370n, 1n],
  "N": ["force", 1000000n, 1n], "lbf": ["force", 44482216152605n, 10000000n],
}));
const plain = ["plain", 1000000n, 1n];
const most = 900000000000n; // wear.MostTyped

export function isLength(unit) { return units.get(unit)?.[0] === "length"; }

// parse reads a decimal number in a unit; null for anything that the laptop
// would refuse.
export function parse(text, unit) {
  const [dimension, times, over] = units.get(unit) ?? plain;
  const found = /^([+-]?)(\d*)(?:\.(\d*))?$/.exec(trim(text).replace("−", "-"));
  if (!found) return null;
  const [, sign, whole, part = ""] = found;
  const digits = found[0].length - sign.length;
  if (!whole && !part || digits > 30) return null;
  const scale = over * 10n ** BigInt(part.length);
  const size = BigInt(whole + part) * times;
  if (size % scale !== 0n && dimension === "length") return null;
  const near = (2n * size + scale) / (2n * scale); // half away from zero
  const value = sign === "-" ? -near : near;
  return value > most || value < -most ? null : value;
}

// entry reads a number as typed on a sheet: a full size; with a sign, steps
// from the nominal, or from the set size where there is one; in dial mode
// always steps from the set size.
export function entry(text, mode, unit, nominal, set) {
  text = trim(text);
  if (!isLength(unit) || mode === "full" && !/^[+\-−]/.test(text)) return parse(text, unit);
  if (mode === "dial" && set === null) return null;
  const from = set ?? nominal;
  if (from === null) return null;
  const value = parse(text, unit);
  if (value === null) return null;
  const scale = units.get(unit)[1] / (unit === "mm" ? 10000n : 25400n);
  if (scale === 0n) return null;
  const steps = value / scale;
  if (value % scale !== 0n || steps > 12700000n || steps < -12700000n) return null;
  return from + steps;
}

// write is a length, mass or force with as many decimals as it needs: those that
// the unit is read to, and up to extra more.
export function write(value, unit, extra = 2) {
  const [, times, over] = units.get(unit) ?? plain;
  const decimals = { in: 4, mm: 3, kg: 3, lb: 3, oz: 2 }[unit] ?? 1;
  const size = value < 0n ? -value : value;
  const scale = 10n ** BigInt(decimals + extra);
  const text = ((2n * size * over * scale + times) / (2n * times)).toString().padStart(decimals + extra + 1, "0");
  const part = text.slice(-decimals - extra).replace(new RegExp(`0{0,${extra}}$`), "");
  return (value < 0n ? "-" : "") + text.slice(0, -decimals - extra) + "." + part;
}

// Go trims what Unicode calls white space; so does this, and no more.
function trim(text) {
  return text.replace(/^[\t-\r \u0085\u00a0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+|[\t-\r \u0085\u00a0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+$/g, "");
}
