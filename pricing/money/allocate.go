package money

import (
	"fmt"
	"math/big"
	"math/bits"
	"slices"

	"github.com/shopspring/decimal"
)

// Allocate divides an amount in the proportion of the weights so that the
// parts sum to it exactly. Each part is the exact share cut off towards zero;
// the minor units left over go one each to the largest remainders, of equal
// ones to the earlier. A weight of zero gets nothing, unless all are zero:
// then all are equal. A negative total gives the parts of the positive one
// with the other sign.
//
// Errors: ErrWeights when there is a negative weight, or none at all and
// something to divide.
func Allocate(total Amount, weights []decimal.Decimal) ([]Amount, error) {
	common := int32(0)
	fits := true
	for _, w := range weights {
		if w.Sign() < 0 {
			return nil, fmt.Errorf("%w: %s is negative", ErrWeights, w)
		}
		if w.Exponent() < -1000 || w.Exponent() > 1000 {
			return nil, fmt.Errorf("%w: a weight of more than a thousand digits", ErrWeights)
		}
		common = min(common, w.Exponent())
	}
	whole := make([]int64, len(weights))
	for i, w := range weights {
		coef, exp, ok := small(w)
		up := exp - common
		if !ok || up > 17 || w.NumDigits()+int(up) > 17 {
			fits = false
			break
		}
		whole[i] = coef * pow10[up]
	}
	var parts []int64
	var err error
	if fits {
		parts, err = AllocateMinor(nil, total.minor, whole)
	} else {
		parts = allocateBig(total.minor, weights, common)
	}
	if err != nil {
		return nil, err
	}
	out := make([]Amount, len(parts))
	for i, p := range parts {
		out[i] = Amount{p, total.in}
	}
	return out, nil
}

// AllocateMinor is Allocate on plain minor units and whole weights. The parts
// are appended to into, which may be nil.
//
// Errors: ErrWeights.
func AllocateMinor(into []int64, total int64, weights []int64) ([]int64, error) {
	start := len(into)
	if len(weights) == 0 {
		if total != 0 {
			return nil, fmt.Errorf("%w: there are none", ErrWeights)
		}
		return into, nil
	}
	var sum uint64
	for _, w := range weights {
		if w < 0 {
			return nil, fmt.Errorf("%w: %d is negative", ErrWeights, w)
		}
		var carry uint64
		if sum, carry = bits.Add64(sum, uint64(w), 0); carry != 0 || sum > 1<<63 {
			return allocateWide(into, total, weights)
		}
	}
	all := sum == 0
	if all {
		sum = uint64(len(weights))
	}
	size := magnitude(total)
	left := size
	type remainder struct {
		rest uint64
		at   int
	}
	var few [16]remainder
	rests := few[:0]
	for i, w := range weights {
		if all {
			w = 1
		}
		hi, lo := bits.Mul64(size, uint64(w))
		q, rest := bits.Div64(hi, lo, sum) // w <= sum, so q <= size fits
		left -= q
		into = append(into, int64(q))
		rests = append(rests, remainder{rest, i})
	}
	if left > 0 {
		slices.SortFunc(rests, func(a, b remainder) int {
			switch {
			case a.rest > b.rest:
				return -1
			case a.rest < b.rest:
				return 1
			}
			return a.at - b.at
		})
		for i := range left { // fewer than there are rests above zero
			into[start+rests[i].at]++
		}
	}
	if total < 0 {
		for i := start; i < len(into); i++ {
			into[i] = -into[i]
		}
	}
	return into, nil
}

// allocateWide is AllocateMinor where the weights' sum leaves 64 bits.
func allocateWide(into []int64, total int64, weights []int64) ([]int64, error) {
	wide := make([]decimal.Decimal, len(weights))
	for i, w := range weights {
		wide[i] = decimal.New(w, 0)
		if w < 0 {
			return nil, fmt.Errorf("%w: %d is negative", ErrWeights, w)
		}
	}
	return append(into, allocateBig(total, wide, 0)...), nil
}

// allocateBig is the same division in whole numbers of any size.
func allocateBig(total int64, weights []decimal.Decimal, common int32) []int64 {
	whole := make([]*big.Int, len(weights))
	sum := new(big.Int)
	for i, w := range weights {
		whole[i] = w.Shift(-common).BigInt()
		sum.Add(sum, whole[i])
	}
	size := new(big.Int).SetUint64(magnitude(total))
	parts := make([]int64, len(weights))
	rests := make([]*big.Int, len(weights))
	order := make([]int, len(weights))
	left := int64(magnitude(total))
	for i, w := range whole {
		q, rest := new(big.Int).QuoRem(new(big.Int).Mul(size, w), sum, new(big.Int))
		parts[i], rests[i], order[i] = q.Int64(), rest, i
		left -= parts[i]
	}
	slices.SortStableFunc(order, func(a, b int) int { return rests[b].Cmp(rests[a]) })
	for _, i := range order[:left] {
		parts[i]++
	}
	if total < 0 {
		for i := range parts {
			parts[i] = -parts[i]
		}
	}
	return parts
}

// SharesOf rounds the exact shares values[i] × num/den to whole minor units so
// that they sum to total: every share is cut off towards −∞, and the units
// that are missing go one each to the largest fractions, of equal ones to the
// earlier. Other than Allocate it takes values of either sign, and no share
// moves by a whole unit. It serves to spread a VAT worked on a sum over the
// lines of the sum.
//
// Error: ErrWeights when total is not a rounding of the shares' sum, so that
// they could not be made to meet it.
func SharesOf(into []int64, values []int64, num, den int64, total int64) ([]int64, error) {
	if den <= 0 || num < 0 {
		return nil, fmt.Errorf("%w: %d/%d is no fraction", ErrWeights, num, den)
	}
	type fraction struct {
		rest uint64
		at   int
	}
	start := len(into)
	var few [64]fraction
	rests := few[:0]
	left := total
	for i, v := range values {
		hi, lo := bits.Mul64(magnitude(v), uint64(num))
		if hi >= uint64(den) {
			return nil, ErrTooLarge
		}
		q, rest := bits.Div64(hi, lo, uint64(den))
		part := int64(q)
		if v < 0 {
			part = -part
			if rest > 0 { // floor of a negative number, and its fraction above it
				part, rest = part-1, uint64(den)-rest
			}
		}
		left -= part
		into = append(into, part)
		rests = append(rests, fraction{rest, i})
	}
	if left < 0 || left > int64(len(values)) {
		return nil, fmt.Errorf("%w: %d is not the rounded sum of the shares", ErrWeights, total)
	}
	if left > 0 {
		slices.SortFunc(rests, func(a, b fraction) int {
			switch {
			case a.rest > b.rest:
				return -1
			case a.rest < b.rest:
				return 1
			}
			return a.at - b.at
		})
		for i := range left {
			into[start+rests[i].at]++
		}
	}
	return into, nil
}
