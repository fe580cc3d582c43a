package quote

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/shopspring/decimal"

	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// said is an amount as people read it: £1,234.50, CHF 1,234.50.
func said(a money.Amount) string {
	text := a.Fixed()
	sign := ""
	if strings.HasPrefix(text, "-") {
		sign, text = "−", text[1:]
	}
	whole, cents, _ := strings.Cut(text, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if cents != "" {
		whole += "." + cents
	}
	switch a.Currency() {
	case "GBP":
		return sign + "£" + whole
	case "EUR":
		return sign + "€" + whole
	}
	return sign + string(a.Currency()) + " " + whole
}

// moreOrLess is a difference as part of a sentence: "£20.00 more".
func (t *comparing) moreOrLess(minor int64) string {
	if minor < 0 {
		return said(t.amount(-minor)) + " less"
	}
	return said(t.amount(minor)) + " more"
}

// priceOf is what something costs as the end of a sentence: "£20.00",
// "included", "£20.00 off".
func (t *comparing) priceOf(minor int64) string {
	switch {
	case minor == 0:
		return "included"
	case minor < 0:
		return said(t.amount(-minor)) + " off"
	}
	return said(t.amount(minor))
}

// change is a difference in a price as the end of a sentence: ", £20.00 more",
// or that there is none.
func (t *comparing) change(minor int64) string {
	if minor == 0 {
		return "at the same price"
	}
	return t.moreOrLess(minor)
}

// hours and kilograms are decimals with a sign of their own.
func moreOrLess(d decimal.Decimal, unit string) string {
	if d.Sign() < 0 {
		return d.Neg().String() + " " + unit + " less"
	}
	return d.String() + " " + unit + " more"
}

func onAcceptance(p pricing.Payment) bool { return p.When == pricebook.OnAcceptance }

// capital starts a text with a capital letter.
func capital(s string) string {
	r, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[size:]
}

// lowered starts a text with a small letter, unless its first word is in
// capitals (LED).
func lowered(s string) string {
	r, size := utf8.DecodeRuneInString(s)
	if next, _ := utf8.DecodeRuneInString(s[size:]); !unicode.IsLower(next) && next != ' ' {
		return s
	}
	return string(unicode.ToLower(r)) + s[size:]
}

// unstopped are words that somebody wrote as a sentence, to stand within one.
func unstopped(s string) string { return strings.TrimRight(s, ". ") }

// listed joins words: "a", "a and b", "a, b and c".
func listed(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}

// comes is "comes" for one and "come" for more.
func comes(n int) string {
	if n == 1 {
		return "comes"
	}
	return "come"
}

func things(n int) string {
	if n == 1 {
		return "One thing that was not touched costs"
	}
	return fmt.Sprintf("%d things that were not touched cost", n)
}
