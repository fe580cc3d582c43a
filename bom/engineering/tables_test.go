package engineering_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom/engineering"
)

// The tables are in the code and on the page (docs/engineering.md), written by
// two hands: a slip in one of them is seen here. Where the standard's text was
// not at hand the page says so.

// TestCapacitiesOnThePage: every cell of the table of currents.
func TestCapacitiesOnThePage(t *testing.T) {
	_, rest, ok := strings.Cut(read(t, "../../docs/engineering.md"), "| mm² | 60 °C |")
	if !ok {
		t.Fatal("the page has no such table")
	}
	temperatures := []int64{60, 70, 85, 105, 125, 200}
	cells := 0
	for _, row := range strings.Split(rest, "\n")[2:] {
		if !strings.HasPrefix(row, "|") {
			break
		}
		numbers := number.FindAllString(row, -1)
		for i, temperature := range temperatures {
			got, err := engineering.CableA(decimal.RequireFromString(numbers[0]), decimal.NewFromInt(temperature), 1)
			if err != nil || !got.Equal(decimal.RequireFromString(numbers[1+i])) {
				t.Errorf("%s mm² at %d °C: %s A (%v), on the page %s", numbers[0], temperature, got, err, numbers[1+i])
			}
			cells++
		}
	}
	if cells != 15*6 {
		t.Errorf("%d cells", cells)
	}
}

var number = regexp.MustCompile(`\d+(\.\d+)?`)

// TestRatingsOnThePage: every rating is had for just as much, and the next for a
// little more.
func TestRatingsOnThePage(t *testing.T) {
	page := read(t, "../../docs/engineering.md")
	for name, rating := range map[string]func(decimal.Decimal) (decimal.Decimal, error){
		"Fuses: ": func(a decimal.Decimal) (decimal.Decimal, error) {
			return engineering.FuseA(a, decimal.RequireFromString("1"), decimal.RequireFromString("1000"))
		},
		"Breakers: ": func(a decimal.Decimal) (decimal.Decimal, error) {
			return engineering.BreakerA(a, decimal.RequireFromString("1000"))
		},
	} {
		_, rest, ok := strings.Cut(page, name)
		list, _, ok2 := strings.Cut(rest, " A (")
		if !ok || !ok2 {
			t.Fatalf("the page does not list %s", name)
		}
		numbers := number.FindAllString(list, -1)
		for i, n := range numbers {
			if got, err := rating(decimal.RequireFromString(n)); err != nil || !got.Equal(decimal.RequireFromString(n)) {
				t.Errorf("%s%s A: %s (%v)", name, n, got, err)
			}
			if i+1 < len(numbers) {
				if got, err := rating(decimal.RequireFromString(n).Add(decimal.RequireFromString("0.001"))); err != nil || !got.Equal(decimal.RequireFromString(numbers[i+1])) {
					t.Errorf("%sabove %s A: %s (%v), on the page %s", name, n, got, err, numbers[i+1])
				}
			} else if got, err := rating(decimal.RequireFromString(n).Add(decimal.RequireFromString("0.001"))); err == nil {
				t.Errorf("%sabove the last: %s", name, got)
			}
		}
		if len(numbers) < 10 {
			t.Errorf("%s%v", name, numbers)
		}
	}
}

// TestSizesAndGroupingOnThePage: the standard sizes, and the share each further
// circuit leaves.
func TestSizesAndGroupingOnThePage(t *testing.T) {
	page := read(t, "../../docs/engineering.md")
	list := func(from, to string) []string {
		_, rest, ok := strings.Cut(page, from)
		list, _, ok2 := strings.Cut(rest, to)
		if !ok || !ok2 {
			t.Fatalf("the page does not say %q", from)
		}
		return number.FindAllString(list, -1)
	}
	sizes := list("`next_mm2`: the next of ", " mm²")
	for i, n := range sizes {
		if got, err := engineering.NextMM2(decimal.RequireFromString(n)); err != nil || !got.Equal(decimal.RequireFromString(n)) {
			t.Errorf("%s mm²: %s (%v)", n, got, err)
		}
		if i+1 < len(sizes) {
			if got, err := engineering.NextMM2(decimal.RequireFromString(n).Add(decimal.RequireFromString("0.001"))); err != nil || !got.Equal(decimal.RequireFromString(sizes[i+1])) {
				t.Errorf("above %s mm²: %s (%v), on the page %s", n, got, err, sizes[i+1])
			}
		}
	}
	shares := list("`grouping_percent`: ", " % for 1 to 9")
	if len(shares) != 9 || len(sizes) != 15 {
		t.Fatalf("%v %v", shares, sizes)
	}
	more := list("% for 1 to 9 circuits, ", ". Source") // 45 from 12, and so on
	for n := 1; n <= 30; n++ {
		var want string
		if n <= 9 {
			want = shares[n-1]
		} else {
			want = shares[8]
			for i := 0; i < len(more); i += 2 {
				if decimal.RequireFromString(more[i+1]).LessThanOrEqual(decimal.NewFromInt(int64(n))) {
					want = more[i]
				}
			}
		}
		if got, err := engineering.GroupingPercent(n); err != nil || !got.Equal(decimal.RequireFromString(want)) {
			t.Errorf("%d circuits: %s (%v), on the page %s", n, got, err, want)
		}
	}
}

// TestFixedVentilationOnThePage: every row of the table, just at its area and
// just above it.
func TestFixedVentilationOnThePage(t *testing.T) {
	_, rest, ok := strings.Cut(read(t, "../../docs/engineering.md"), "| something unflued |")
	if !ok {
		t.Fatal("the page has no such table")
	}
	var rows [][]string
	for _, row := range strings.Split(rest, "\n")[2:] {
		if !strings.HasPrefix(row, "| $") {
			break
		}
		rows = append(rows, strings.Split(strings.ReplaceAll(row, ",", ""), "|"))
	}
	if len(rows) != 5 {
		t.Fatalf("%d rows", len(rows))
	}
	at := func(area string, row []string) {
		t.Helper()
		high, err := engineering.HighFixedMM2(decimal.RequireFromString(area), decimal.RequireFromString("3.2"))
		low, err2 := engineering.LowFixedMM2(decimal.RequireFromString(area), decimal.RequireFromString("3.2"))
		want := func(cell string) decimal.Decimal { return decimal.RequireFromString(number.FindString(cell)) }
		if err != nil || err2 != nil || !high.Equal(want(row[2])) || !low.Equal(want(row[3])) {
			t.Errorf("%s m²: %s high, %s low (%v %v), on the page %v", area, high, low, err, err2, row)
		}
	}
	for i, area := range []string{"5", "10", "15", "20"} {
		at(area, rows[i])
		at(area+".001", rows[i+1])
	}
	if !slices.ContainsFunc(rows, func(r []string) bool { return strings.Contains(r[4], "from memory") }) {
		t.Error("nothing is marked as from memory")
	}
}
