// Elements without strings of markup: nothing in the data can become markup.

function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith('on')) {
      element.addEventListener(name.slice(2), value);
    } else if (value !== null && value !== undefined && value !== false) {
      element.setAttribute(name, value === true ? '' : value);
    }
  }
  element.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined));
  return element;
}

export function el(tag, attributes = {}, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

export function svg(tag, attributes = {}, ...children) {
  return fill(document.createElementNS('http://www.w3.org/2000/svg', tag), attributes, children);
}

// Names that people wrote may run in any direction.
export function name(text) {
  return el('bdi', {}, text);
}

let lastId = 0;
export function freshId(what) {
  lastId += 1;
  return `${what}-${lastId}`;
}

export function capital(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

const minus = '\u2212';

// Numbers are rounded by the same rules as in src/report/say/numbers.hpp.

// Halves away from zero.
function rounded(value, decimals) {
  return (Math.sign(value) * Math.round(Math.abs(value) * 10 ** decimals)) / 10 ** decimals;
}

// "+4.2", with a true minus sign; a dash if not known.
export function signed(value, decimals = 1) {
  if (value === null || Number.isNaN(value)) {
    return '\u2013';
  }
  const shown = rounded(value, decimals);
  return (shown < 0 ? minus : shown > 0 ? '+' : '') + Math.abs(shown).toFixed(decimals);
}

// A margin, on the side of every limit that it is on: those of the classes and the one wanted.
export function margin(data, value, decimals = 1, wanted = 0) {
  if (value === null || Number.isNaN(value)) {
    return '\u2013';
  }
  const step = 10 ** -decimals;
  let shown = rounded(value, decimals);
  if (value >= wanted && shown < wanted) {
    shown = rounded(shown + step, decimals);
  }
  for (const limit of [...data.legend.classes.map((entry) => entry.least ?? -Infinity), wanted]) {
    if (value < limit && shown >= limit) {
      shown = rounded(shown - step, decimals);
    }
  }
  return (shown === 0 ? '+' : '') + signed(shown, decimals);
}

export function decibels(value) {
  return `${signed(value)} dB`;
}

export function marginDecibels(data, value, wanted = 0) {
  return `${margin(data, value, 1, wanted)} dB`;
}

// The same where there is little room.
export function shortPercent(value) {
  return percent(value).replace('under ', '<').replace('over ', '>');
}

export function percent(value) {
  if (value === null || Number.isNaN(value)) {
    return '\u2013';
  }
  // Nothing is certain: neither 0 nor 100.
  if (value < 0.5) {
    return 'under 1 %';
  }
  return value >= 99.5 ? 'over 99 %' : `${Math.round(value)} %`;
}

// What people read lengths in, as in src/geo/units.hpp.
let imperial = false;
export function useUnits(units) {
  imperial = units === 'imperial';
}

function inKilometres(metres) {
  const shown = Number(metres.toPrecision(3));
  return shown < 1000 ? `${shown} m` : `${shown / 1000} km`;
}

// Three figures at most.
export function distance(metres) {
  if (!imperial) {
    return inKilometres(metres);
  }
  const feet = Number((metres / 0.3048).toPrecision(3));
  return feet < 1000 ? `${feet} ft` : `${Number((metres / 1609.344).toPrecision(3))} mi`;
}

// The same in the other units, for those who think in them.
export function otherDistance(metres) {
  if (imperial) {
    return inKilometres(metres);
  }
  const value = metres / 1609.344;
  return `${value.toFixed(value < 10 ? 2 : 1)} mi`;
}

export function height(metres) {
  return imperial ? `${Math.round(metres / 0.3048)} ft` : `${Math.round(metres)} m`;
}

// A bearing in three digits, as it is said on the radio.
export function bearing(degrees) {
  return `${String(((Math.round(degrees) % 360) + 360) % 360).padStart(3, '0')}\u00b0`;
}
