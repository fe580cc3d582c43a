package store

import (
	"fmt"
	"strings"
	"unicode"

	"github.com/google/uuid"
	"golang.org/x/text/unicode/norm"
)

// CustomerFilter says which customers to list.
type CustomerFilter struct {
	// Find is what was typed into the one box: the beginning of a surname or
	// firm, of surname and given names in either order, of a registration; a
	// part of a telephone number or an e-mail address. "" means all.
	Find string
	// After is the last one already seen; the nil id begins. One who is not
	// there any more is ErrNotFound.
	After uuid.UUID
	Limit int // 0 means 50; at most 200
}

// Customers lists those who are found, without those erased: first who keeps a
// van of exactly the registration asked for, then by name. more says that
// there are others after the last.
func (t ReadTx) Customers(f CustomerFilter) (list []CustomerEntry, more bool, err error) {
	limit := bounded(f.Limit)
	sought, err := t.sought(f.Find)
	if err != nil {
		return nil, false, fmt.Errorf("customers: %w", err)
	}
	var after customerEntryRow
	begun := f.After != uuid.Nil
	if begun {
		if after, err = of[customerEntryRow](t).where("id = ? AND erased_us IS NULL", f.After).one(); err != nil {
			return nil, false, fmt.Errorf("the last customer seen: %w", err)
		}
	}
	_, inFirst := sought.exact[f.After]
	var found []customerEntryRow
	if len(sought.exact) > 0 && (!begun || inFirst) {
		query := of[customerEntryRow](t).where("id IN ? AND erased_us IS NULL", keys(sought.exact)).order("found_name, id")
		if begun {
			query = query.where("(found_name, id) > (?, ?)", after.FoundName, after.ID)
		}
		if found, err = query.first(limit + 1); err != nil {
			return nil, false, fmt.Errorf("customers: %w", err)
		}
	}
	if len(found) <= limit {
		query := sought.narrow(of[customerEntryRow](t).where("erased_us IS NULL").order("found_name, id"))
		if begun && !inFirst {
			query = query.where("(found_name, id) > (?, ?)", after.FoundName, after.ID)
		}
		others, err := query.first(limit + 1 - len(found))
		if err != nil {
			return nil, false, fmt.Errorf("customers: %w", err)
		}
		found = append(found, others...)
	}
	if len(found) > limit {
		found, more = found[:limit], true
	}
	list, err = t.customerEntries(found)
	return list, more, err
}

// sought is what was typed, as the columns have it.
type sought struct {
	all bool
	// exact keep a van of exactly that registration, begun of one that begins
	// so.
	exact, begun map[uuid.UUID]bool
	name         string
	given        bool // also with the given names first
	telephone    string
	email        string
}

// How much must be typed before it is looked for inside a number or an
// address: less finds nearly everybody.
const (
	leastDigits = 4
	leastEmail  = 3
	// sameNumber is from how many digits on two telephone numbers of which
	// one ends with the other are the same, one of them written with its
	// country.
	sameNumber = 7
	// mostKeepers of vans whose registrations begin alike are looked at.
	mostKeepers = 200
)

func (t ReadTx) sought(typed string) (sought, error) {
	typed = strings.TrimSpace(typed)
	if typed == "" {
		return sought{all: true}, nil
	}
	s := sought{
		exact: map[uuid.UUID]bool{}, begun: map[uuid.UUID]bool{},
		name: PlainName(typed), given: len(strings.Fields(typed)) > 1,
	}
	if digits := PlainTelephone(typed); len(digits) >= leastDigits && looksLikeTelephone(typed) {
		s.telephone = digits
	}
	if email := PlainEmail(typed); len(email) >= leastEmail && !strings.ContainsAny(email, " ") {
		s.email = email
	}
	registration := PlainRegistration(typed)
	if registration == "" {
		return s, nil
	}
	keepers, err := of[vanKeeperRow](t).where("customer IS NOT NULL AND registration >= ? AND registration < ?", registration, past(registration)).
		order("registration, created_us DESC, id DESC").first(mostKeepers)
	for _, v := range keepers {
		if v.Registration == registration {
			s.exact[v.Customer.UUID] = true
		} else {
			s.begun[v.Customer.UUID] = true
		}
	}
	for id := range s.exact {
		delete(s.begun, id)
	}
	return s, err
}

// narrow leaves those who are found otherwise than by an exact registration.
func (s sought) narrow(query rows[customerEntryRow]) rows[customerEntryRow] {
	if s.all {
		return query
	}
	var either []string
	var values []any
	or := func(condition string, with ...any) {
		either, values = append(either, condition), append(values, with...)
	}
	if s.name != "" {
		or("found_name >= ? AND found_name < ?", s.name, past(s.name))
		if s.given {
			or("found_given >= ? AND found_given < ?", s.name, past(s.name))
		}
	}
	if s.telephone != "" {
		for _, column := range []string{"found_telephone", "found_other_telephone"} {
			or(column+" LIKE ?", "%"+s.telephone+"%")
			or(fmt.Sprintf("length(%s) >= %d AND ? LIKE '%%' || %[1]s", column, sameNumber), s.telephone)
		}
	}
	if s.email != "" {
		or("email LIKE ? ESCAPE '!'", "%"+literally(s.email)+"%")
	}
	if len(s.begun) > 0 {
		or("id IN ?", keys(s.begun))
	}
	if len(either) == 0 {
		return query.where("1 = 0")
	}
	query = query.where(strings.Join(either, " OR "), values...)
	if len(s.exact) > 0 {
		query = query.where("id NOT IN ?", keys(s.exact))
	}
	return query
}

// past is the least text that sorts after everything that begins with one.
func past(begin string) string { return begin + string(unicode.MaxRune) }

// literally is a text in which LIKE finds nothing but itself, with ! before
// its signs.
func literally(text string) string {
	return strings.NewReplacer("!", "!!", "%", "!%", "_", "!_").Replace(text)
}

func keys(set map[uuid.UUID]bool) []uuid.UUID {
	list := make([]uuid.UUID, 0, len(set))
	for id := range set {
		list = append(list, id)
	}
	return list
}

// PlainName is a name as it is looked up: small letters and digits, without
// accents, spaces and signs, so that "O’Dúill" and "oduill" are one.
func PlainName(name string) string {
	var b strings.Builder
	for _, r := range norm.NFKD.String(strings.ToLower(name)) {
		switch plain, ok := plainLetters[r]; {
		case ok:
			b.WriteString(plain)
		case unicode.IsLetter(r), unicode.IsDigit(r):
			b.WriteRune(unicode.ToLower(r)) // NFKD may bring capitals back
		}
	}
	return b.String()
}

// plainLetters are those that are letters of their own to Unicode and
// accented ones to whoever looks for them on another keyboard.
var plainLetters = map[rune]string{
	'ß': "ss", 'æ': "ae", 'œ': "oe", 'ø': "o", 'ł': "l", 'đ': "d", 'ð': "d", 'þ': "th", 'ı': "i", 'ħ': "h",
}

// PlainTelephone is a telephone number as it is looked up: its digits, without
// the 00 or + before a country and without the 0 before an area. A number with
// its country then ends with the same number without it.
func PlainTelephone(number string) string {
	number, _, _ = strings.Cut(strings.ToLower(number), "x") // an extension
	number = strings.Replace(number, "(0)", "", 1)
	var digits strings.Builder
	for _, r := range number {
		if r >= '0' && r <= '9' {
			digits.WriteRune(r)
		}
	}
	plain := digits.String()
	if !strings.HasPrefix(strings.TrimSpace(number), "+") {
		plain = strings.TrimPrefix(plain, "0")
		plain = strings.TrimPrefix(plain, "0")
	}
	return plain
}

// looksLikeTelephone: digits, and what people put between them.
func looksLikeTelephone(typed string) bool {
	return strings.Trim(typed, "0123456789+-./() ") == ""
}
