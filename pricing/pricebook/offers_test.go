package pricebook

import (
	"fmt"
	"testing"
)

func TestOffers(t *testing.T) {
	least := dec("4")
	k := compiled(t, func(e *Edition) {
		e.Costs[0].Breaks = []Break{{dec("5"), dec("1400")}, {dec("20"), dec("1350")}}
		e.Costs[1].LeastQuantity = &least
		held := e.Costs[0]
		held.Until, held.Cost = "2026-04-30", dec("1440") // dearer from May on
		e.Costs = append([]Cost{held}, e.Costs...)
	})
	say := func(day string) (text string) {
		for _, o := range k.Offers("roof_unit", day) {
			text += fmt.Sprintf("%s %s in %s from %s after %d; ", o.Supplier.Code, o.Unit.Fixed(), o.Pack, o.Least, o.LeadDays)
		}
		return text
	}
	if got, want := say("2026-04-30"), "chandler 1440.00 in 1 from 0 after 5; tester 1500.125 in 2 from 4 after 20; "; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if got, want := say("2026-05-01"), "chandler 1450.00 in 1 from 0 after 5; tester 1500.125 in 2 from 4 after 20; "; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	o := k.Offers("roof_unit", "2026-05-01")[0]
	for quantity, want := range map[string]string{"1": "1450.00", "4.9": "1450.00", "5": "1400.00", "19": "1400.00", "20": "1350.00"} {
		if got := o.UnitFor(dec(quantity)).Fixed(); got != want {
			t.Errorf("of %s one costs %s, want %s", quantity, got, want)
		}
	}
	if o, ok := k.OutsideOffer("gas_test"); !ok || o.Supplier.Code != "tester" || o.LeadDays != 3 || o.Unit.Fixed() != "95.00" {
		t.Errorf("a gas test: %+v %v", o, ok)
	}
	if len(k.Offers("cable", "2026-07-01")) != 0 {
		t.Error("a cost nobody holds is offered")
	}
}
