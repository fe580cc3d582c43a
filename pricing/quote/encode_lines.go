package quote

import (
	"reflect"
	"strconv"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/money"
)

// A frozen van has some four hundred lines, five hundred reasons and as many
// costs, nine tenths of its bytes: these are written field by field, three
// times as fast as by looking each field up. A test holds every field of them
// against the library.

// writtenOut are the writers of those types.
func writtenOut(t reflect.Type) writer {
	switch t {
	case reflect.TypeFor[bom.Line]():
		return penned((*pen).sheetLine)
	case reflect.TypeFor[bom.Because]():
		return penned((*pen).because)
	case reflect.TypeFor[pricing.Line]():
		return penned((*pen).priceLine)
	case reflect.TypeFor[pricing.LineCost]():
		return penned((*pen).lineCost)
	case reflect.TypeFor[pricing.Costed]():
		return penned((*pen).costed)
	}
	return nil
}

func penned[T any](write func(*pen, *T)) writer {
	return func(b []byte, v reflect.Value) ([]byte, error) {
		p := pen{b: b}
		write(&p, v.Addr().Interface().(*T)) //nolint:errcheck,forcetypeassert // by its type
		return p.b, p.err
	}
}

// pen writes fields one after another: each key with what stands before it.
type pen struct {
	b   []byte
	err error // the first
}

func (p *pen) raw(s string) { p.b = append(p.b, s...) }

func (p *pen) text(key, s string) {
	p.b = appendText(append(p.b, key...), s)
}

// some writes a text unless it is empty.
func (p *pen) some(key, s string) {
	if s != "" {
		p.text(key, s)
	}
}

func (p *pen) number(key string, n int) {
	p.b = strconv.AppendInt(append(p.b, key...), int64(n), 10)
}

func (p *pen) decimal(key string, d *decimal.Decimal) {
	p.keep(appendQuoted(append(p.b, key...), d))
}

func (p *pen) amount(key string, a *money.Amount) {
	p.keep(appendAmount(append(p.b, key...), a))
}

func (p *pen) unitPrice(key string, u *money.UnitPrice) {
	p.keep(appendUnitPrice(append(p.b, key...), u))
}

func (p *pen) keep(b []byte, err error) {
	if p.b = b; p.err == nil {
		p.err = err
	}
}

func (p *pen) sheetLine(l *bom.Line) {
	p.text(`{"stage":`, l.Stage)
	p.text(`,"kind":`, string(l.Kind))
	p.some(`,"code":`, l.Code)
	p.some(`,"finish":`, l.Finish)
	p.text(`,"name":`, l.Name)
	p.decimal(`,"quantity":`, &l.Quantity)
	p.text(`,"unit":`, l.Unit)
	p.decimal(`,"mass_kg":`, &l.MassKG)
	p.some(`,"provision":`, string(l.Provision))
	if l.Unproved {
		p.raw(`,"unproved":true`)
	}
	if l.InPlaceOf != nil {
		p.raw(`,"in_place_of":`)
		p.text(`{"part":`, l.InPlaceOf.Part)
		p.text(`,"name":`, l.InPlaceOf.Name)
		p.decimal(`,"fewer":`, &l.InPlaceOf.Fewer)
		p.raw("}")
	}
	if l.Because == nil {
		p.raw(`,"because":null}`)
		return
	}
	p.raw(`,"because":[`)
	for i := range l.Because {
		if i > 0 {
			p.raw(",")
		}
		p.because(&l.Because[i])
	}
	p.raw("]}")
}

func (p *pen) because(b *bom.Because) {
	p.raw("{")
	if b.Feature != "" {
		p.text(`"feature":`, b.Feature)
		p.raw(",")
	}
	if b.Addition != "" {
		p.text(`"addition":`, b.Addition)
		p.raw(",")
	}
	if b.Removal {
		p.raw(`"removal":true,`)
	}
	if len(b.Via) > 0 {
		p.raw(`"via":`)
		before := "["
		for _, kit := range b.Via {
			p.text(before, kit)
			before = ","
		}
		p.raw("],")
	}
	p.decimal(`"quantity":`, &b.Quantity)
	p.text(`,"says":`, b.Says)
	p.raw("}")
}

func (p *pen) priceLine(l *pricing.Line) {
	p.text(`{"kind":`, string(l.Kind))
	p.some(`,"code":`, l.Code)
	p.some(`,"instead_of":`, l.InsteadOf)
	p.text(`,"words":`, l.Words)
	p.number(`,"quantity":`, l.Quantity)
	p.unitPrice(`,"unit_price":`, &l.UnitPrice)
	p.amount(`,"amount":`, &l.Amount)
	p.some(`,"edition":`, l.Edition)
	if l.Today != nil {
		p.unitPrice(`,"today":`, l.Today)
	}
	p.text(`,"treatment":`, string(l.Treatment))
	p.decimal(`,"vat_percent":`, &l.Percent)
	p.amount(`,"net":`, &l.Net)
	p.amount(`,"vat":`, &l.VAT)
	if l.Unpriced {
		p.raw(`,"unpriced":true`)
	}
	p.raw("}")
}

func (p *pen) lineCost(c *pricing.LineCost) {
	p.amount(`{"cost":`, &c.Cost)
	p.amount(`,"overhead":`, &c.Overhead)
	p.amount(`,"margin":`, &c.Margin)
	p.raw("}")
}

func (p *pen) costed(c *pricing.Costed) {
	p.number(`{"line":`, c.Line)
	p.some(`,"supplier":`, c.Supplier)
	p.unitPrice(`,"unit_cost":`, &c.UnitCost)
	p.amount(`,"cost":`, &c.Cost)
	if c.Overhead {
		p.raw(`,"overhead":true`)
	}
	p.raw("}")
}
