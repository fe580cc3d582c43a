package money

import (
	"errors"
	"slices"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
)

func TestAllocate(t *testing.T) {
	for _, c := range []struct {
		name    string
		total   string
		weights []string
		want    []string
	}{
		{"a third each, the odd penny to the first", "100.00", []string{"1", "1", "1"}, []string{"33.34", "33.33", "33.33"}},
		{"two odd pennies", "0.05", []string{"1", "1", "1"}, []string{"0.02", "0.02", "0.01"}},
		{"largest remainder before first", "0.10", []string{"1", "2", "4"}, []string{"0.01", "0.03", "0.06"}},
		{"negative mirrors positive", "-100.00", []string{"1", "1", "1"}, []string{"-33.34", "-33.33", "-33.33"}},
		{"nothing for a weight of nothing", "10.00", []string{"0", "3", "0"}, []string{"0.00", "10.00", "0.00"}},
		{"all weights nothing: equal", "0.03", []string{"0", "0"}, []string{"0.02", "0.01"}},
		{"decimals weigh by their size", "30.00", []string{"0.5", "1.0", "1.50"}, []string{"5.00", "10.00", "15.00"}},
		{"nothing to divide", "0.00", []string{"1", "2"}, []string{"0.00", "0.00"}},
		{"long weights", "1.00", []string{"0.33333333333333333333", "0.66666666666666666667"}, []string{"0.33", "0.67"}},
		// VAT notice arithmetic on a deposit of 20 % of 1,666.67: the odd
		// penny is in the balance.
		{"a fifth of 1,666.67", "1666.67", []string{"20", "80"}, []string{"333.33", "1333.34"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			weights := make([]decimal.Decimal, len(c.weights))
			for i, w := range c.weights {
				weights[i] = dec(w)
			}
			parts, err := Allocate(amount(t, c.total), weights)
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, p := range parts {
				got = append(got, p.Fixed())
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("%s by %v is %v, want %v", c.total, c.weights, got, c.want)
			}
		})
	}
}

func TestAllocateRefuses(t *testing.T) {
	if _, err := Allocate(amount(t, "1"), nil); !errors.Is(err, ErrWeights) {
		t.Errorf("something over nobody: %v", err)
	}
	if parts, err := Allocate(amount(t, "0"), nil); err != nil || len(parts) != 0 {
		t.Errorf("nothing over nobody: %v, %v", parts, err)
	}
	for _, w := range []string{"-1", "1e2000", "1e-2000"} {
		if _, err := Allocate(amount(t, "1"), []decimal.Decimal{dec("2"), dec(w)}); !errors.Is(err, ErrWeights) {
			t.Errorf("weight %s: %v", w, err)
		}
	}
}

func TestAllocateProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		total := rapid.OneOf(rapid.Int64Range(-1e6, 1e6), rapid.Int64Range(-1e15+1, 1e15-1)).Draw(t, "total")
		weights := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) decimal.Decimal {
			places := rapid.Int32Range(0, 12).Draw(t, "places")
			return decimal.New(rapid.OneOf(rapid.Int64Range(0, 3), rapid.Int64Range(0, 1<<62)).Draw(t, "weight"), -places)
		}), 1, 30).Draw(t, "weights")
		whole, err := FromMinor(total, "GBP")
		if err != nil {
			t.Fatal(err)
		}
		parts, err := Allocate(whole, weights)
		if err != nil {
			t.Fatal(err)
		}
		sum := decimal.Zero
		for _, w := range weights {
			sum = sum.Add(w)
		}
		back := int64(0)
		for i, p := range parts {
			back += p.Minor()
			if p.Sign()*whole.Sign() < 0 {
				t.Fatalf("part %d is %v of %v", i, p, whole)
			}
			if sum.IsZero() {
				continue
			}
			if weights[i].IsZero() && !p.IsZero() {
				t.Fatalf("a weight of nothing got %v", p)
			}
			// |part − share| < 1, kept in whole numbers: |part·sum − total·weight| < sum
			off := decimal.New(p.Minor(), 0).Mul(sum).Sub(decimal.New(total, 0).Mul(weights[i])).Abs()
			if off.GreaterThanOrEqual(sum) {
				t.Fatalf("part %d is %v, a whole unit from its share", i, p)
			}
			for j := range i {
				if weights[i].Equal(weights[j]) && (p.Minor()-parts[j].Minor() > 1 || parts[j].Minor()-p.Minor() > 1) {
					t.Fatalf("equal weights got %v and %v", parts[j], p)
				}
			}
		}
		if back != total {
			t.Fatalf("the parts of %d sum to %d", total, back)
		}
		mirrored, err := Allocate(whole.Neg(), weights)
		if err != nil {
			t.Fatal(err)
		}
		for i := range parts {
			if mirrored[i] != parts[i].Neg() {
				t.Fatalf("the negative of %v gives %v", parts[i], mirrored[i])
			}
		}
		again, _ := Allocate(whole, weights)
		if !slices.Equal(again, parts) {
			t.Fatal("not the same again")
		}
	})
}

// The 64-bit, the 128-bit and the big-number ways divide alike.
func TestAllocateWaysAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		total := rapid.Int64Range(-1e15+1, 1e15-1).Draw(t, "total")
		weights := rapid.SliceOfN(rapid.OneOf(rapid.Int64Range(0, 5), rapid.Int64Range(0, 1<<63-1)), 1, 20).Draw(t, "weights")
		if !slices.ContainsFunc(weights, func(w int64) bool { return w > 0 }) {
			weights[0] = 1
		}
		quick, err := AllocateMinor(nil, total, weights)
		if err != nil {
			t.Fatal(err)
		}
		slow, err := allocateWide(nil, total, weights)
		if err != nil || !slices.Equal(quick, slow) {
			t.Fatalf("%v and %v, %v", quick, slow, err)
		}
	})
}

func TestSharesMeetTheirRoundedSum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.OneOf(rapid.Int64Range(-200, 200), rapid.Int64Range(-1e12, 1e12)), 0, 40).Draw(t, "values")
		num := rapid.Int64Range(0, 250).Draw(t, "num")
		den := num + rapid.Int64Range(1, 1000).Draw(t, "more")
		sum := int64(0)
		for _, v := range values {
			sum += v
		}
		for how := HalfUp; how <= Floor; how++ {
			total, err := PartMinor(sum, num, den, how)
			if err != nil {
				t.Fatal(err)
			}
			if how == Up || how == Down || how == Ceiling || how == Floor {
				continue // may be a whole unit from the sum
			}
			shares, err := SharesOf(nil, values, num, den, total)
			if err != nil {
				t.Fatal(err)
			}
			back := int64(0)
			for i, s := range shares {
				back += s
				off := decimal.New(s*den, 0).Sub(decimal.New(values[i], 0).Mul(decimal.New(num, 0))).Abs()
				if off.GreaterThanOrEqual(decimal.New(den, 0)) && num > 0 {
					t.Fatalf("%d of %d is a whole unit off %d/%d", s, values[i], num, den)
				}
				if (values[i] == 0 || num == 0) && s != 0 {
					t.Fatalf("nothing got %d", s)
				}
			}
			if back != total {
				t.Fatalf("shares sum to %d, not %d", back, total)
			}
		}
	})
	if _, err := SharesOf(nil, []int64{100}, 1, 5, 22); err == nil {
		t.Error("shares were bent to meet a total that is not theirs")
	}
}
