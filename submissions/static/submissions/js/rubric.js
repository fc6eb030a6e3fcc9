/* The page that writes a rubric: spare criteria and levels stay out of the way until they are asked for. */

const FEWEST_LEVELS = 2;
const isEmpty = (field) => !field.querySelector("textarea").value.trim();

function foldLevels(criterion) {
  const levels = [...criterion.querySelectorAll("[data-level]")];
  const more = criterion.querySelector("[data-more-levels]");
  const last = levels.findLastIndex((level) => !isEmpty(level));
  levels.forEach((level, n) => {
    level.hidden = n > last && n >= FEWEST_LEVELS;
  });
  const spare = () => levels.filter((level) => level.hidden);
  more.hidden = spare().length === 0;
  more.addEventListener("click", () => {
    const [next] = spare();
    next.hidden = false;
    next.querySelector("textarea").focus();
    more.hidden = spare().length === 0;
  });
}

const criteria = [...document.querySelectorAll("[data-criterion]")];
const more = document.querySelector("[data-more-criteria]");
const spare = () => criteria.filter((criterion) => criterion.hidden);

for (const criterion of criteria) {
  foldLevels(criterion);
  criterion.hidden = "spare" in criterion.dataset;
}
more.hidden = spare().length === 0;
more.addEventListener("click", () => {
  const [next] = spare();
  next.hidden = false;
  next.querySelector("input").focus();
  more.hidden = spare().length === 0;
});
