package ledger

import "wainscot/pricing/money"

// mostFeePercent of card takings a payout may be less than what was taken, for
// being proposed as that. Common practice, no source: card companies ask for
// one to three.
const mostFeePercent = 5

// PayoutOf says how many of card takings, the oldest first, a sum that came to
// the bank pays out together, and what the company kept of them: the fewest that
// leave a fee of nothing to five per cent. ok is false where none do. Where more
// was charged back than taken, that is the one taking, below nothing, and the sum
// went out.
func PayoutOf(taken []money.Amount, net money.Amount) (n int, sum, fee money.Amount, ok bool) {
	minor := int64(0)
	for i, t := range taken {
		if t.Currency() != net.Currency() {
			return 0, money.Amount{}, money.Amount{}, false
		}
		minor += t.Minor()
		kept := minor - net.Minor()
		if net.IsZero() || net.Sign() < 0 != (minor < 0) || kept < 0 {
			continue
		}
		if kept*100 > max(minor, -minor)*mostFeePercent {
			break
		}
		return i + 1, amountOf(minor, net.Currency()), amountOf(kept, net.Currency()), true
	}
	return 0, money.Amount{}, money.Amount{}, false
}
