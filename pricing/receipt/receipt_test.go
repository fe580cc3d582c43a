package receipt_test

import (
	"testing"

	"pgregory.net/rapid"

	"wainscot/bom/document"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/receipt"
)

func pounds(minor int64) money.Amount {
	a, err := money.FromMinor(minor, "GBP")
	if err != nil {
		panic(err)
	}
	return a
}

func hundred(t interface{ Fatal(...any) }) receipt.Receipt {
	r, faults := receipt.New(receipt.Receipt{Day: "2026-03-10", Into: ledger.Bank, Amount: pounds(100_00)}, "2026-03-10")
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return r
}

func TestNew(t *testing.T) {
	for at, r := range map[string]receipt.Receipt{
		"day":    {Day: "2026-03-11", Into: ledger.Bank, Amount: pounds(1)},
		"into":   {Day: "2026-03-10", Into: ledger.Sales, Amount: pounds(1)},
		"amount": {Day: "2026-03-10", Into: ledger.Cash, Amount: pounds(0)},
	} {
		if _, faults := receipt.New(r, "2026-03-10"); len(faults) != 1 || faults[0].At != at {
			t.Errorf("%s: %v", at, faults)
		}
	}
	if _, faults := receipt.New(receipt.Receipt{Day: "2026-02-30", Into: ledger.TakenIn, Amount: pounds(1)}, "2026-03-10"); len(faults) != 1 {
		t.Errorf("no such day: %v", faults)
	}
}

func TestWhatStandsAgainstIt(t *testing.T) {
	euro, err := money.FromMinor(1, "EUR")
	if err != nil {
		t.Fatal(err)
	}
	placed, _ := hundredOf(t).Place("job", pounds(60_00), "2026-03-10")
	given, _ := hundredOf(t).GiveBack(pounds(1), ledger.Cash, "2026-03-10")
	lost, _ := hundredOf(t).Lose(receipt.Bounced, "2026-03-10", nil)
	back, _ := placed.TakeBack(1, "2026-03-12")
	fee := pounds(0)
	do := func(_ receipt.Receipt, f document.Faults) document.Faults { return f }
	here := func(_ *receipt.Placement, f document.Faults) document.Faults { return f }
	for name, c := range map[string]struct {
		faults document.Faults
		code   string
	}{
		"more than is left":       {do(placed.Place("job", pounds(40_01), "2026-03-10")), "more_than_there_is"},
		"nothing":                 {do(placed.Place("job", pounds(0), "2026-03-10")), "amount"},
		"another currency":        {do(placed.Place("job", euro, "2026-03-10")), "amount"},
		"before it came":          {do(placed.Place("job", pounds(1), "2026-03-09")), "day"},
		"from sales":              {do(placed.GiveBack(pounds(1), ledger.Sales, "2026-03-10")), "account"},
		"more than is left back":  {do(placed.GiveBack(pounds(40_01), ledger.Bank, "2026-03-10")), "more_than_there_is"},
		"no placement":            {here(placed.Here(2)), "no_placement"},
		"taken back":              {do(back.TakeBack(1, "2026-03-12")), "taken_back"},
		"lost while placed":       {do(placed.Lose(receipt.Bounced, "2026-03-10", nil)), "in_use"},
		"lost though given back":  {do(given.Lose(receipt.Bounced, "2026-03-10", nil)), "in_use"},
		"lost twice":              {do(lost.Lose(receipt.Bounced, "2026-03-10", nil)), "lost"},
		"lost before it came":     {do(back.Lose(receipt.Bounced, "2026-03-09", nil)), "day"},
		"lost in another way":     {do(back.Lose("stolen", "2026-03-10", nil)), "unknown_word"},
		"for a fee of nothing":    {do(back.Lose(receipt.Bounced, "2026-03-10", &fee)), "amount"},
		"placed when it was lost": {do(lost.Place("job", pounds(1), "2026-03-10")), "lost"},
	} {
		if len(c.faults) == 0 || c.faults[0].Code != c.code {
			t.Errorf("%s: %v, want %s", name, c.faults, c.code)
		}
	}
	if back.Left() != pounds(100_00) || placed.Left() != pounds(40_00) || lost.Left() != pounds(0) {
		t.Errorf("left are %s, %s, %s", back.Left(), placed.Left(), lost.Left())
	}
	text, err := placed.Encode()
	if err != nil {
		t.Fatal(err)
	}
	if again, err := receipt.Decode(text); err != nil || again.Left() != placed.Left() {
		t.Errorf("decoded %+v, %v", again, err)
	}
	for _, broken := range []string{"", "{}", `{"format":"wainscot-receipt/1","colour":"red"}`, string(text) + "{}"} {
		if _, err := receipt.Decode([]byte(broken)); err == nil {
			t.Errorf("%q was read", broken)
		}
	}
}

func hundredOf(t *testing.T) *receipt.Receipt {
	t.Helper()
	r := hundred(t)
	return &r
}

// TestLeftIsWhatCameLessWhatWent: whatever is done to a receipt in whatever
// order, what is left is what came in less what is placed and was given back,
// never below nothing; and what is refused changes nothing.
func TestLeftIsWhatCameLessWhatWent(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := hundred(rt)
		left, placed, lost := int64(100_00), map[int]int64{}, false
		rt.Repeat(map[string]func(*rapid.T){
			"place": func(rt *rapid.T) {
				part := rapid.Int64Range(1, 120_00).Draw(rt, "part")
				now, faults := r.Place("job", pounds(part), "2026-03-10")
				if (len(faults) == 0) != (!lost && part <= left) {
					rt.Fatalf("placing %d of %d: %v", part, left, faults)
				}
				if r = now; len(faults) == 0 {
					left -= part
					placed[len(r.Placements)] = part
				}
			},
			"take back": func(rt *rapid.T) {
				n := rapid.IntRange(1, len(r.Placements)+1).Draw(rt, "placement")
				now, faults := r.TakeBack(n, "2026-03-11")
				if (len(faults) == 0) != (placed[n] > 0) {
					rt.Fatalf("taking back %d: %v", n, faults)
				}
				r, left = now, left+placed[n]
				delete(placed, n)
			},
			"give back": func(rt *rapid.T) {
				part := rapid.Int64Range(1, 120_00).Draw(rt, "part")
				now, faults := r.GiveBack(pounds(part), ledger.Bank, "2026-03-10")
				if (len(faults) == 0) != (!lost && part <= left) {
					rt.Fatalf("giving back %d of %d: %v", part, left, faults)
				}
				if r = now; len(faults) == 0 {
					left -= part
				}
			},
			"lose": func(rt *rapid.T) {
				now, faults := r.Lose(receipt.ChargedBack, "2026-03-12", nil)
				if (len(faults) == 0) != (!lost && left == 100_00) {
					rt.Fatalf("losing with %d left: %v", left, faults)
				}
				if r = now; len(faults) == 0 {
					left, lost = 0, true
				}
			},
			"": func(rt *rapid.T) {
				if r.Left().Minor() != left {
					rt.Fatalf("%s is left, want %d", r.Left(), left)
				}
			},
		})
	})
}
