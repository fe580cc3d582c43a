package paper

import (
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/shopspring/decimal"
	"golang.org/x/text/language"
	"golang.org/x/text/language/display"
	"golang.org/x/text/unicode/norm"

	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// minus is the sign that is as wide as a figure; noBreak is a space at which no
// line is broken.
const (
	minus       = "\u2212"
	noBreak     = "\u00a0"
	noBreakRune = '\u00a0'
)

// clean makes one line of words that can be printed, with printer's quotation
// marks.
func clean(s string) string { return quotes(exact(s)) }

// exact makes one line of text that can be printed and keeps its wording:
// control characters and marks that change the direction of what follows are
// taken out, white space becomes single spaces, accents are put onto their
// letters.
func exact(s string) string {
	var b strings.Builder
	b.Grow(len(s))
	space := false
	for _, r := range norm.NFC.String(strings.ToValidUTF8(s, "\ufffd")) {
		switch {
		case unicode.IsSpace(r) && r != noBreakRune:
			space = b.Len() > 0
			continue
		case unicode.IsControl(r), unicode.Is(unicode.Cf, r), unicode.Is(unicode.Variation_Selector, r),
			unicode.Is(unicode.Noncharacter_Code_Point, r):
			continue
		}
		if space {
			b.WriteByte(' ')
			space = false
		}
		b.WriteRune(r)
	}
	return b.String()
}

// quotes puts curved quotation marks and apostrophes in place of straight
// ones. After a figure they are feet and inches and stay.
func quotes(s string) string {
	if !strings.ContainsAny(s, "'\"") {
		return s
	}
	var b strings.Builder
	before := ' '
	for _, r := range s {
		opening := before == ' ' || before == noBreakRune || strings.ContainsRune("([{–—“‘", before)
		switch {
		case r != '\'' && r != '"' || unicode.IsDigit(before):
			b.WriteRune(r)
		case r == '"' && opening:
			b.WriteRune('“')
		case r == '"':
			b.WriteRune('”')
		case opening:
			b.WriteRune('‘')
		default:
			b.WriteRune('’')
		}
		before = r
	}
	return b.String()
}

// cleaned cleans each and leaves out what is then empty.
func cleaned(list []string) []string {
	var out []string
	for _, s := range list {
		if s = clean(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// paragraphs are the lines of a text to the word; an empty line is only a gap.
func paragraphs(text string) []string {
	var out []string
	for _, s := range strings.FieldsFunc(text, func(r rune) bool { return r == '\n' || r == '\r' || r == '\u2028' || r == '\u2029' }) {
		if s = exact(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// figures writes an amount without its currency: 1,234.50, a true minus before
// what is below nothing.
func figures(a money.Amount) string { return grouped(a.Fixed()) }

// priced writes an amount with its currency: £1,234.50, CHF 1,234.50.
func priced(a money.Amount) string {
	text := grouped(a.Fixed())
	sign := ""
	if strings.HasPrefix(text, minus) {
		sign, text = minus, text[len(minus):]
	}
	return sign + symbol(a.Currency()) + text
}

// symbol is how a currency is written before a number.
func symbol(c money.Currency) string {
	switch c {
	case "GBP":
		return "£"
	case "EUR":
		return "€"
	}
	return string(c) + noBreak
}

// grouped puts a comma between thousands and a true minus in front.
func grouped(number string) string {
	sign, digits := "", number
	if strings.HasPrefix(digits, "-") {
		sign, digits = minus, digits[1:]
	}
	whole, part, point := strings.Cut(digits, ".")
	var b strings.Builder
	b.WriteString(sign)
	for i, d := range whole {
		if i > 0 && (len(whole)-i)%3 == 0 {
			b.WriteByte(',')
		}
		b.WriteRune(d)
	}
	if point {
		b.WriteString("." + part)
	}
	return b.String()
}

// day writes a YYYY-MM-DD as people do; anything else stays as it is.
func day(text string) string {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return clean(text)
	}
	return t.Format("2" + noBreak + "January" + noBreak + "2006")
}

// shortDay writes a YYYY-MM-DD in few letters: 4 Jan 2027.
func shortDay(text string) string {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return clean(text)
	}
	return t.Format("2" + noBreak + "Jan" + noBreak + "2006")
}

// percent writes a percentage with its sign.
func percent(d decimal.Decimal) string { return d.String() + noBreak + "%" }

// vatWords says at what VAT something is.
func vatWords(t pricebook.Treatment, rate decimal.Decimal) string {
	switch t {
	case pricebook.Standard, pricebook.Reduced, pricebook.Zero:
		return percent(rate)
	case pricebook.Margin:
		return "margin scheme"
	case pricebook.Exempt:
		return "exempt"
	case pricebook.Outside:
		return "outside VAT"
	}
	return clean(string(t))
}

// due says when a payment is to be made.
func due(p pricing.Payment) string {
	switch {
	case p.When == pricebook.BeforeSlot && p.Days > 0:
		return days(p.Days) + " before the work begins"
	case p.When == pricebook.OnHandover && p.Days > 0:
		return days(p.Days) + " after handover"
	case p.When == pricebook.BeforeSlot:
		return "before the work begins"
	}
	return clean(string(p.When))
}

func days(n int) string {
	if n == 1 {
		return "1" + noBreak + "day"
	}
	return fmt.Sprintf("%d%sdays", n, noBreak)
}

// number writes small whole numbers as words.
func number(n int) string {
	words := [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	if n >= 0 && n < len(words) {
		return words[n]
	}
	return fmt.Sprint(n)
}

// times puts a number before a thing there is more than one of.
func times(n int, name string) string {
	if n == 1 || n == 0 {
		return name
	}
	return fmt.Sprintf("%d%s×%s%s", n, noBreak, noBreak, name)
}

// listed joins words: "a", "a and b", "a, b and c".
func listed(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}

// capital makes a text begin like a sentence.
func capital(s string) string {
	r, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[size:]
}

// uncapital makes a sentence stand inside another.
func uncapital(s string) string {
	r, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return s
	}
	return string(unicode.ToLower(r)) + s[size:]
}

// plain turns a code into words: "sliding_doors" into "sliding doors".
func plain(code string) string { return clean(strings.NewReplacer("_", " ", "-", " ").Replace(code)) }

// country is the name of a country by its two letters (ISO 3166-1); the letters
// of one without a name.
func country(code string) string {
	region, err := language.ParseRegion(code)
	if err != nil {
		return exact(code)
	}
	if name := display.English.Regions().Name(region); name != "" {
		return name
	}
	return exact(code)
}
