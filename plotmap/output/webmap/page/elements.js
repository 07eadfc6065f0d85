"use strict";
/* Elements, numbers and words. A text of the data is only ever set as text, never as markup. */
window.plotmap = {};
(function (plotmap) {
  const SVG = "http://www.w3.org/2000/svg";
  const THIN_SPACE = "\u202f";

  function filled(element, attributes, children) {
    for (const [name, value] of Object.entries(attributes || {})) {
      if (value !== null && value !== undefined) element.setAttribute(name, value);
    }
    element.append(...children.filter((child) => child !== null && child !== undefined));
    return element;
  }

  plotmap.make = (tag, attributes, ...children) =>
    filled(document.createElement(tag), attributes, children);
  plotmap.draw = (tag, attributes, ...children) =>
    filled(document.createElementNS(SVG, tag), attributes, children);
  plotmap.byId = (id) => document.getElementById(id);

  /* A rounded number as text: 1 234.5. One that was given more decimals than usual, because it is small or lies
     just below a class edge, keeps them. */
  plotmap.number = function (value, field) {
    const { decimals, unit } = field;
    const given = (String(value).split(".")[1] || "").length;
    const small = value !== 0 && Math.abs(value) < 10 ** (1 - decimals) && Number(value.toPrecision(2)) === value;
    const fixed = small ? value.toPrecision(2) : value.toFixed(Math.max(decimals, given));
    const [whole, part] = (unit === "" && Number.isInteger(value) ? String(value) : fixed).split(".");
    const grouped = whole.replace(/\B(?=(\d{3})+$)/g, THIN_SPACE).replace("-", "−");
    return part === undefined ? grouped : `${grouped}.${part}`;
  };

  plotmap.withUnit = (value, field) =>
    field.unit ? `${plotmap.number(value, field)}\u00a0${field.unit}` : plotmap.number(value, field);

  plotmap.heading = (field) => (field.unit ? `${field.title}, ${field.unit}` : field.title);

  /* Number and name of a compartment, or the number alone where it has no other name. */
  plotmap.fullName = function ({ compartments }, row) {
    const [number, name] = [compartments.compartment[row], compartments.name[row]];
    return name && name !== number ? `${number} ${name}` : number;
  };

  plotmap.hasStrata = ({ compartments }) => new Set(compartments.stratum.filter((stratum) => stratum !== null)).size > 1;

  plotmap.percent = (value) => `${value}\u00a0%`;
})(window.plotmap);
