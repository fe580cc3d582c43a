package formula

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"

	"github.com/shopspring/decimal"

	"wainscot/bom/document"
	"wainscot/bom/engineering"
)

// engineered are the published formulas of bom/engineering that a formula may
// call, in the order of its files. What each means, and where it comes from,
// stands at the Go function and in docs/engineering.md.
var engineered = []*calculation{
	// gas.go
	of2("high_fixed_mm2", engineering.HighFixedMM2, rises("area_m2"), rises("unflued_kw")),
	of2("roof_fixed_mm2", engineering.RoofFixedMM2, rises("area_m2"), rises("unflued_kw")),
	of2("low_fixed_mm2", engineering.LowFixedMM2, rises("area_m2"), rises("unflued_kw")),
	of3("input_vent_mm2", engineering.InputVentMM2, rises("unflued_kw"), rises("people_count").counted(), rises("flued_kw")),
	of4("high_vent_mm2", engineering.HighVentMM2, rises("area_m2"), rises("unflued_kw"), rises("people_count").counted(), rises("flued_kw")),
	of4("low_vent_mm2", engineering.LowVentMM2, rises("area_m2"), rises("unflued_kw"), rises("people_count").counted(), rises("flued_kw")),
	of1("drop_vent_mm2", engineering.DropVentMM2, rises("floor_m2")),
	of1("split_drop_vent_mm2", engineering.SplitDropVentMM2, rises("floor_m2")),
	of3("locker_width_mm", engineering.LockerWidthMM, rises("cylinder_mm"), rises("cylinder_count").counted(), rises("gap_mm")),
	of3("locker_floor_m2", engineering.LockerFloorM2, rises("cylinder_mm"), rises("cylinder_count").counted(), rises("gap_mm")),
	of3("tightness_fall_mbar", engineering.TightnessFallMbar, rises("pressure_mbar"), rises("settle_minutes"), rises("test_minutes")),
	of1("hose_left_years", engineering.HoseLeftYears, falls("age_years")),
	of1("regulator_left_years", engineering.RegulatorLeftYears, falls("age_years")),
	of3("gas_hours", engineering.GasHours, rises("gas_kg"), falls("input_kw"), rises("heating_kwh_per_kg")),
	of2("gas_input_kw", engineering.GasInputKW, rises("used_g_per_h"), rises("heating_kwh_per_kg")),

	// mass.go
	of3("rear_change_kg", engineering.RearChangeKg, bends("mass_kg"), bends("behind_mm"), bends("wheelbase_mm")),
	of3("front_change_kg", engineering.FrontChangeKg, bends("mass_kg"), bends("behind_mm"), bends("wheelbase_mm")),
	of1("people_kg", engineering.PeopleKg, rises("people_count").counted()),
	of1("passengers_kg", engineering.PassengersKg, rises("seat_count").counted()),
	of2("minimum_payload_kg", engineering.MinimumPayloadKg, rises("people_count").counted(), rises("length_m")),
	of3("fuel_missing_kg", engineering.FuelMissingKg, falls("fuel_percent"), bends("tank_l"), bends("fuel_kg_per_l")),
	of6("unladen_rear_kg", engineering.UnladenRearKg, rises("reading_kg"), bends("people_kg"), bends("people_behind_mm"), bends("fuel_missing_kg"), bends("tank_behind_mm"), bends("wheelbase_mm")),
	of6("unladen_front_kg", engineering.UnladenFrontKg, rises("reading_kg"), bends("people_kg"), bends("people_behind_mm"), bends("fuel_missing_kg"), bends("tank_behind_mm"), bends("wheelbase_mm")),
	of2("running_order_kg", engineering.RunningOrderKg, rises("unladen_kg"), rises("liquids_kg")),

	// cable.go
	of4("drop_v", engineering.DropV, rises("current_a"), rises("length_m"), falls("area_mm2"), rises("conductor_c")),
	of4("drop_area_mm2", engineering.DropAreaMM2, rises("current_a"), rises("length_m"), falls("allowed_v"), rises("conductor_c")),
	of1("next_mm2", engineering.NextMM2, rises("area_mm2")),
	{"grouping_percent", []parameter{falls("circuits").counted()}, func(g given) (decimal.Decimal, error) {
		return engineering.GroupingPercent(wholeOf(g[0]))
	}},
	{"cable_a", []parameter{rises("area_mm2"), rises("insulation_c"), falls("circuits").counted()}, func(g given) (decimal.Decimal, error) {
		return engineering.CableA(g[0], g[1], wholeOf(g[2]))
	}},
	{"cable_mm2", []parameter{rises("current_a"), rises("length_m"), falls("allowed_v"), bends("insulation_c"), rises("circuits").counted()}, func(g given) (decimal.Decimal, error) {
		return engineering.CableMM2(g[0], g[1], g[2], g[3], wholeOf(g[4]))
	}},
	{"fused_cable_mm2", []parameter{rises("current_a"), rises("load_factor"), rises("length_m"), falls("allowed_v"), bends("insulation_c"), rises("circuits").counted()}, func(g given) (decimal.Decimal, error) {
		return engineering.FusedCableMM2(g[0], g[1], g[2], g[3], g[4], wholeOf(g[5]))
	}},
	// fuse.go
	of3("fuse_a", engineering.FuseA, rises("current_a"), rises("load_factor"), rises("cable_a")),
	of2("breaker_a", engineering.BreakerA, rises("current_a"), rises("cable_a")),
	{"mains_cable_a", []parameter{rises("mains_mm2"), falls("circuits").counted()}, func(g given) (decimal.Decimal, error) {
		return engineering.MainsCableA(g[0], wholeOf(g[1]))
	}},
	{"mains_cable_mm2", []parameter{rises("current_a"), rises("length_m"), falls("allowed_v"), rises("circuits").counted()}, func(g given) (decimal.Decimal, error) {
		return engineering.MainsCableMM2(g[0], g[1], g[2], wholeOf(g[3]))
	}},
	of1("earth_limit_ohm", engineering.EarthLimitOhm, falls("trip_ma")),
	of2("support_count", engineering.SupportCount, rises("length_m"), falls("spacing_mm")),
	of2("circuit_count", engineering.CircuitCount, rises("total_a"), falls("most_a")),
	// energy.go
	of2("daily_wh", engineering.DailyWh, rises("power_w"), rises("used_h")),
	of5("battery_ah", engineering.BatteryAh, rises("daily_wh"), rises("days"), falls("voltage_v"), falls("usable_percent"), rises("loss_factor")),
	of3("usable_wh", engineering.UsableWh, rises("capacity_ah"), rises("voltage_v"), rises("usable_percent")),
	of3("peukert_one_ampere_h", engineering.PeukertOneAmpereH, rises("capacity_ah"), falls("current_a"), bends("exponent")),
	of4("peukert_rated_h", engineering.PeukertRatedH, rises("capacity_ah"), falls("rated_h"), falls("current_a"), bends("exponent")),
	of2("charger_a", engineering.ChargerA, rises("capacity_ah"), rises("share_percent")),
	of3("charge_h", engineering.ChargeH, rises("used_ah"), falls("charger_a"), falls("efficiency_percent")),
	of4("driving_wh", engineering.DrivingWh, rises("current_a"), rises("voltage_v"), rises("efficiency_percent"), rises("driven_h")),
	of3("peak_sun_h", func(latitude, month, clearness decimal.Decimal) (decimal.Decimal, error) {
		return engineering.PeakSunH(latitude, wholeOf(month), clearness)
	}, bends("latitude_deg"), bends("month").counted(), rises("clearness_percent")),
	of3("solar_wh", engineering.SolarWh, rises("panel_w"), rises("peak_sun_h"), falls("loss_factor")),

	// water.go
	of1("water_kg", engineering.WaterKg, rises("water_l")),
	of3("water_needed_l", engineering.WaterNeededL, rises("people_count").counted(), rises("days_count"), rises("each_l")),
	of2("waste_least_l", engineering.WasteLeastL, rises("fresh_l"), rises("share_percent")),
	of1("head_mbar", engineering.HeadMbar, rises("height_m")),
	of2("water_heat_wh", engineering.WaterHeatWh, rises("water_l"), rises("rise_k")),

	// thermal.go
	of2("layer_m2k_per_w", engineering.LayerM2KPerW, rises("thickness_mm"), falls("conductivity_w_per_mk")),
	of2("declared_m2k_per_w", engineering.DeclaredM2KPerW, rises("thickness_mm"), falls("conductivity_w_per_mk")),
	of1("wall_w_per_m2k", engineering.WallWPerM2K, falls("layers_m2k_per_w")),
	of1("roof_w_per_m2k", engineering.RoofWPerM2K, falls("layers_m2k_per_w")),
	of1("floor_w_per_m2k", engineering.FloorWPerM2K, falls("layers_m2k_per_w")),
	of3("heat_loss_w", engineering.HeatLossW, rises("u_w_per_m2k"), rises("area_m2"), rises("difference_k")),
	of3("air_loss_w", engineering.AirLossW, rises("volume_m3"), rises("changes_per_h"), rises("difference_k")),
	of4("interface_c", engineering.InterfaceC, rises("inside_c"), rises("outside_c"), bends("within_m2k_per_w"), bends("beyond_m2k_per_w")),
	of2("dew_point_c", engineering.DewPointC, rises("air_c"), rises("humidity_percent")),
	of6("interface_dew_c", engineering.InterfaceDewC, rises("inside_c"), rises("inside_percent"), rises("outside_c"), rises("outside_percent"), bends("within_sd_m"), bends("beyond_sd_m")),

	// bonding.go
	of3("opening_mm", engineering.OpeningMM, rises("width_mm"), rises("height_mm"), falls("radius_mm")),
	of3("opening_m2", engineering.OpeningM2, rises("width_mm"), rises("height_mm"), falls("radius_mm")),
	of2("triangle_mm2", engineering.TriangleMM2, rises("base_mm"), rises("rise_mm")),
	of1("round_mm2", engineering.RoundMM2, rises("diameter_mm")),
	of2("bead_ml", engineering.BeadMl, rises("length_mm"), rises("bead_mm2")),
	of3("cartridge_count", engineering.CartridgeCount, rises("needed_ml"), rises("waste_percent"), falls("each_ml")),
	of3("spread_ml", engineering.SpreadMl, rises("area_m2"), falls("coverage_m2_per_l"), rises("coats_count").counted()),
	of3("strip_count", engineering.StripCount, rises("run_mm"), falls("roll_width_mm"), rises("overlap_mm")),
	of5("roll_m", engineering.RollM, rises("run_mm"), rises("drop_mm"), falls("roll_width_mm"), rises("overlap_mm"), rises("trim_mm")),
}

// maxArguments is how many a calculation may take.
const maxArguments = 6

// calculation is one function of bom/engineering.
type calculation struct {
	name       string // ends in the unit of what it gives
	parameters []parameter
	work       func(given *[maxArguments]decimal.Decimal) (decimal.Decimal, error)
}

// slow are the calculations with a power, a logarithm or an angle, worked in
// decimals.
var slow = []string{"peukert_one_ampere_h", "peukert_rated_h", "peak_sun_h", "dew_point_c", "interface_dew_c"}

// cost in calls of the usual kind, about a microsecond of processor each.
func (c *calculation) cost() int {
	if slices.Contains(slow, c.name) {
		return 50
	}
	return 1
}

// MaxCost is how many calls of engineering the formulas of one catalogue may
// have together, each formula counted once and a slow one as fifty: all of them
// worked out take some twenty milliseconds.
const MaxCost = 20_000

// cost of a formula's calls.
func (n *node) cost() int {
	if n == nil {
		return 0
	}
	sum := n.a.cost() + n.b.cost() + n.c.cost()
	if n.worked != nil {
		sum += n.worked.of.cost()
		for _, a := range n.worked.args {
			sum += a.cost()
		}
	}
	return sum
}

// parameter is one thing a calculation takes.
type parameter struct {
	name  string // ends in its unit; one without a unit takes any
	trend trend
	whole bool // only whole numbers, from 0
}

// trend is how the result of a calculation moves while one parameter rises and
// the others stay. Between goes by it.
type trend uint8

const (
	rising  trend = iota + 1 // the result rises too, or stays
	falling                  // it falls, or stays
	bending                  // it does the one here and the other there
)

func rises(name string) parameter { return parameter{name: name, trend: rising} }
func falls(name string) parameter { return parameter{name: name, trend: falling} }
func bends(name string) parameter { return parameter{name: name, trend: bending} }

// counted makes a parameter one that is whole, as the number of things is.
func (p parameter) counted() parameter {
	p.whole = true
	return p
}

type (
	number1 = func(a decimal.Decimal) (decimal.Decimal, error)
	number2 = func(a, b decimal.Decimal) (decimal.Decimal, error)
	number3 = func(a, b, c decimal.Decimal) (decimal.Decimal, error)
	number4 = func(a, b, c, d decimal.Decimal) (decimal.Decimal, error)
	number5 = func(a, b, c, d, e decimal.Decimal) (decimal.Decimal, error)
	number6 = func(a, b, c, d, e, f decimal.Decimal) (decimal.Decimal, error)
	given   = *[maxArguments]decimal.Decimal
)

func of1(name string, f number1, p ...parameter) *calculation {
	return &calculation{name, p, func(g given) (decimal.Decimal, error) { return f(g[0]) }}
}

func of2(name string, f number2, p ...parameter) *calculation {
	return &calculation{name, p, func(g given) (decimal.Decimal, error) { return f(g[0], g[1]) }}
}

func of3(name string, f number3, p ...parameter) *calculation {
	return &calculation{name, p, func(g given) (decimal.Decimal, error) { return f(g[0], g[1], g[2]) }}
}

func of4(name string, f number4, p ...parameter) *calculation {
	return &calculation{name, p, func(g given) (decimal.Decimal, error) { return f(g[0], g[1], g[2], g[3]) }}
}

func of5(name string, f number5, p ...parameter) *calculation {
	return &calculation{name, p, func(g given) (decimal.Decimal, error) { return f(g[0], g[1], g[2], g[3], g[4]) }}
}

func of6(name string, f number6, p ...parameter) *calculation {
	return &calculation{name, p, func(g given) (decimal.Decimal, error) { return f(g[0], g[1], g[2], g[3], g[4], g[5]) }}
}

// wholeOf gives a parameter that is counted; the bridge has seen that it is whole
// and small enough.
func wholeOf(d decimal.Decimal) int { return int(d.IntPart()) }

func findCalculation(name string) *calculation {
	for _, c := range engineered {
		if c.name == name {
			return c
		}
	}
	return nil
}

// use is how a calculation is written, for remedies.
func (c *calculation) use() string {
	names := make([]string, len(c.parameters))
	for i, p := range c.parameters {
		names[i] = p.name
	}
	return c.name + "(" + strings.Join(names, ", ") + ")"
}

// noFunction says that nothing is called so, and what is near.
func noFunction(at int, name string) *Error {
	all := make([]string, 0, len(functions)+len(engineered))
	for i := range functions {
		all = append(all, functions[i].name)
	}
	for _, c := range engineered {
		all = append(all, c.name)
	}
	reason := "There is no function " + strconv.Quote(name) + "."
	if near := document.Nearest(name, all); near != "" {
		if c := findCalculation(near); c != nil {
			return fault(at, reason, "Did you mean "+c.use()+"?")
		}
		return fault(at, reason, "Did you mean "+findFunction(near).use+"?")
	}
	return fault(at, reason, "The functions are "+functionList()+", and those of engineering.")
}

// call checks a call of c with its arguments, already checked themselves.
func (c *calculation) call(at int, args []*node) (*node, *Error) {
	if len(args) != len(c.parameters) {
		return nil, fault(at, c.name+" takes "+valuesWord(len(c.parameters))+" and is given "+strconv.Itoa(len(args))+".",
			"Write "+c.use()+".")
	}
	for i, a := range args {
		if a.kind != Number {
			return nil, wrongKind(a, Number)
		}
		p := &c.parameters[i]
		want := UnitOf(p.name)
		if a.unit == "" || want == "" || a.unit == want {
			continue
		}
		return nil, fault(a.at, c.name+" takes its "+p.name+" in "+unitWords(want)+" and is given "+unitWords(a.unit)+".",
			"Write "+c.use()+". "+conversion(a.unit, want))
	}
	return &node{op: calculate, kind: Number, unit: UnitOf(c.name), at: at, worked: &working{of: c, args: args}}, nil
}

// working is one call of a calculation in a formula, with the last few results:
// the same van is worked out again and again, and a calculation is the same
// whenever what it is given is.
type working struct {
	of     *calculation
	args   []*node
	lately [1 << latelyBits]atomic.Pointer[worked]
}

const latelyBits = 3

type worked struct {
	given  [maxArguments]number
	result number
	fault  *Error
}

// value works out the arguments of the calculation n, and it.
func (w *working) value(n *node, v *Values) (number, *Error) {
	var given [maxArguments]number
	for i, a := range w.args {
		x, err := a.value(v)
		if err != nil {
			return zero, err
		}
		given[i] = x
	}
	return w.result(n, given)
}

func (w *working) result(n *node, given [maxArguments]number) (number, *Error) {
	const goldenRatio = 0x9E3779B97F4A7C15 // spreads neighbours over the slots
	var mixed uint64
	for i := range w.args {
		mixed = (mixed ^ given[i].lo ^ uint64(given[i].hi)) * goldenRatio
	}
	slot := &w.lately[mixed>>(64-latelyBits)]
	if last := slot.Load(); last != nil && last.given == given {
		return last.result, last.fault
	}
	made := &worked{given: given}
	made.result, made.fault = w.work(n, &given)
	slot.Store(made)
	return made.result, made.fault
}

func (w *working) work(n *node, numbers *[maxArguments]number) (number, *Error) {
	var given [maxArguments]decimal.Decimal
	for i, a := range w.args {
		x := numbers[i]
		given[i] = x.decimal()
		if p := &w.of.parameters[i]; p.whole && (x.negative() || x.compare(whole(mostCounted)) > 0 || x != x.toMultiple(scale, down)) {
			return zero, fault(a.at, w.of.name+" takes its "+p.name+" as a whole number from 0 to "+strconv.Itoa(mostCounted)+
				" and is given "+given[i].String()+".", "Round it, as in ceil(x).")
		}
	}
	d, err := w.of.work(&given)
	if err != nil {
		return zero, limitFault(n.at, w.of, err)
	}
	x, ok := fromDecimal(d)
	return n.checked(x, ok)
}

// mostCounted bounds what is counted.
const mostCounted = 1_000_000

// limitFault tells a limit of validity as a fault of the formula.
func limitFault(at int, c *calculation, err error) *Error {
	if limit, ok := errors.AsType[*engineering.LimitError](err); ok {
		return fault(at, c.name+": "+limit.Error(), limit.Remedy)
	}
	return fault(at, c.name+" cannot be worked out.", "Look at what it is given: "+c.use()+".")
}

// fold is node.fold for a calculation.
func (w *working) fold(n *node) (*node, *Error) {
	folded := *n
	folded.worked = &working{of: w.of, args: make([]*node, len(w.args))}
	fixed := true
	for i, a := range w.args {
		b, err := a.fold()
		if err != nil {
			return nil, err
		}
		folded.worked.args[i] = b
		fixed = fixed && b.op == constant
	}
	if !fixed {
		return &folded, nil
	}
	x, err := folded.value(nil)
	if err != nil {
		return nil, err
	}
	return &node{op: constant, kind: n.kind, unit: n.unit, at: n.at, number: x}, nil
}

// bound bounds a calculation by the corner where each parameter makes it least
// and the one where each makes it most. There is no telling where a parameter
// that may bend it is not certain.
func (w *working) bound(n *node, least, most *Values) (bounds, bool) {
	var low, high [maxArguments]number
	for i, a := range w.args {
		r, ok := a.between(least, most)
		if !ok {
			return either, false
		}
		switch w.of.parameters[i].trend {
		case rising:
			low[i], high[i] = r.from, r.to
		case falling:
			low[i], high[i] = r.to, r.from
		default:
			if r.from != r.to {
				return either, false
			}
			low[i], high[i] = r.from, r.from
		}
	}
	from, err1 := w.result(n, low)
	to, err2 := w.result(n, high)
	return bounds{from, to}, err1 == nil && err2 == nil
}
