// Finds room for labels beside their marks, so that none covers another or a mark.

function overlaps(a, b) {
  return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}

function within(box, frame) {
  return box.left >= frame.left && box.right <= frame.right && box.top >= frame.top && box.bottom <= frame.bottom;
}

function boxAt(x, y, width, height) {
  return { left: x, top: y, right: x + width, bottom: y + height };
}

// Where a label may stand beside its mark, the best first: right, left, above, below, then corners.
function candidates(mark, gap) {
  const { x, y, radius, width, height } = mark;
  const away = radius + gap;
  const middle = y - height / 2;
  const right = x + away;
  const left = x - away - width;
  const over = y - away - height;
  const under = y + away;
  return [
    [right, middle],
    [left, middle],
    [x - width / 2, over],
    [x - width / 2, under],
    [right - radius / 2, over + radius / 2],
    [right - radius / 2, under - radius / 2],
    [left + radius / 2, over + radius / 2],
    [left + radius / 2, under - radius / 2],
  ];
}

// Marks {x, y, radius, width, height} in pixels, the most important first; width and height are
// those of the label. Gives for each the upper left corner of its label, or null if there is no
// room for it inside the frame.
export function placeLabels(marks, frame, gap = 3) {
  const taken = marks.map((mark) => ({
    mark,
    box: boxAt(mark.x - mark.radius, mark.y - mark.radius, 2 * mark.radius, 2 * mark.radius),
  }));
  return marks.map((mark) => {
    for (const [x, y] of candidates(mark, gap)) {
      const box = boxAt(x, y, mark.width, mark.height);
      if (within(box, frame) && !taken.some((other) => other.mark !== mark && overlaps(box, other.box))) {
        taken.push({ mark: null, box });
        return { x, y };
      }
    }
    return null;
  });
}
