package formula

import "strings"

// Count is the unit of plain numbers: counted features, ratios.
const Count = "count"

// dimensions tells the units a name can end in, and which of them measure the
// same thing: those must be brought to one before they meet.
var dimensions = map[string]string{
	"mm": "length", "m": "length",
	"mm2": "area", "m2": "area",
	"ml": "volume", "l": "volume", "m3": "volume",
	"g": "mass", "kg": "mass",
	"w": "power", "kw": "power",
	"wh": "energy", "kwh": "energy",
	"a": "current", "ah": "charge", "v": "voltage",
	"c": "temperature", "k": "temperature difference", "deg": "angle",
	"mbar": "pressure", "ma": "current", "ohm": "resistance",
	"m2k": "area by temperature difference", // with _per_w: resistance to heat
	"h":   "time", "years": "age", "percent": "percent", Count: "count",
}

// products are the units that multiply to another; read backwards they divide.
var products = []struct{ a, b, product string }{
	{"m", "m", "m2"}, {"mm", "mm", "mm2"},
	{"w", "h", "wh"}, {"kw", "h", "kwh"},
	{"a", "h", "ah"}, {"v", "a", "w"}, {"v", "ah", "wh"},
}

// UnitOf gives the unit a name ends in: "gas_input_kw" is in kw, "seat_count"
// is a plain number, "draw_w_per_m2" is in w_per_m2. It is empty for a name
// without a unit. Units are written as in names, in small letters.
func UnitOf(name string) string {
	if dot := strings.LastIndexByte(name, '.'); dot >= 0 {
		name = name[dot+1:]
	}
	words := strings.Split(name, "_")
	last := words[len(words)-1]
	if n := len(words); n >= 3 && words[n-2] == "per" {
		if _, ok := dimensions[words[n-3]]; ok {
			return words[n-3] + "_per_" + last
		}
		return ""
	}
	if last == "hours" {
		return "h"
	}
	if _, ok := dimensions[last]; ok {
		return last
	}
	return ""
}

// sameMeasure says whether two different units measure the same thing.
func sameMeasure(a, b string) bool {
	return a != b && a != "" && b != "" && dimensions[a] != "" && dimensions[a] == dimensions[b]
}

// timesUnit gives the unit of a product, "" when it is not certain.
func timesUnit(a, b string) string {
	switch {
	case a == "" || b == "":
		return ""
	case a == Count:
		return b
	case b == Count:
		return a
	}
	for _, p := range products {
		if p.a == a && p.b == b || p.a == b && p.b == a {
			return p.product
		}
	}
	if top, bottom, ok := strings.Cut(a, "_per_"); ok && bottom == b {
		return top
	}
	if top, bottom, ok := strings.Cut(b, "_per_"); ok && bottom == a {
		return top
	}
	return ""
}

// overUnit gives the unit of a quotient, "" when it is not certain.
func overUnit(a, b string) string {
	switch {
	case a == "" || b == "":
		return ""
	case a == b:
		return Count
	case b == Count:
		return a
	}
	for _, p := range products {
		if p.product != a {
			continue
		}
		switch b {
		case p.a:
			return p.b
		case p.b:
			return p.a
		}
	}
	if dimensions[a] != "" && dimensions[b] != "" {
		return a + "_per_" + b
	}
	return ""
}

// conversion says how to bring a to b, for a remedy.
func conversion(a, b string) string {
	if sameMeasure(a, b) {
		for _, f := range functions {
			if f.takes == a && f.gives == b || f.takes == b && f.gives == a {
				return "Bring both to one unit with " + f.name + "(x)."
			}
		}
		return "Bring both to one unit first: multiply or divide one of them by 1000."
	}
	return "Put like with like; where a plain factor lies between them (a litre of water is a kilogram), multiply by it."
}

// UnitWords writes a unit as people do; codes have no room for capitals and
// small figures.
func UnitWords(unit string) string {
	if unit == "count" {
		return ""
	}
	if of, per, ok := strings.Cut(unit, "_per_"); ok {
		if per == "m2k" {
			return UnitWords(of) + "/(m²·K)"
		}
		return UnitWords(of) + "/" + UnitWords(per)
	}
	if written, ok := unitsWritten[unit]; ok {
		return written
	}
	return unit
}

var unitsWritten = map[string]string{
	"m2": "m²", "mm2": "mm²", "m3": "m³", "w": "W", "wh": "Wh", "ah": "Ah", "kw": "kW", "kwh": "kWh",
	"a": "A", "ma": "mA", "v": "V", "ohm": "Ω", "c": "°C", "k": "K", "deg": "°", "percent": "%",
	"m2k": "m²·K",
}
