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

// "+4.2", with a true minus sign; a dash if not known.
export function signed(value, decimals = 1) {
  if (value === null || Number.isNaN(value)) {
    return '\u2013';
  }
  const text = Math.abs(value).toFixed(decimals);
  if (Number(text) === 0) {
    return text;
  }
  return (value < 0 ? minus : '+') + text;
}

export function decibels(value) {
  return `${signed(value)} dB`;
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
  if (value < 1) {
    return 'under 1 %';
  }
  return value > 99 ? 'over 99 %' : `${Math.round(value)} %`;
}

export function kilometres(metres) {
  return metres < 1000 ? `${Math.round(metres)} m` : `${(metres / 1000).toFixed(metres < 1e5 ? 1 : 0)} km`;
}

export function miles(metres) {
  const value = metres / 1609.344;
  return `${value.toFixed(value < 10 ? 2 : 1)} mi`;
}

// A bearing in three digits, as it is said on the radio.
export function bearing(degrees) {
  return `${String(((Math.round(degrees) % 360) + 360) % 360).padStart(3, '0')}\u00b0`;
}
