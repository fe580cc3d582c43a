package store

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/api/auth"
)

// Traps: numeric columns become floats and lose digits; a zero is left out of
// an update by struct.
func TestNumbersAreKeptToTheDigit(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	q := addQuote(t, s, p, "long")
	for i, c := range []struct {
		hours string
		total int64
	}{
		{"0.12345678901234567890123456789", 9007199254740993}, // 2^53 + 1, which a float has not
		{"0", 0},
		{"100000000000000000000000000000.1", -9223372036854775808},
		{"0.10", 10},
		{"0", 0},
	} {
		hours := decimal.RequireFromString(c.hours)
		write(t, s, p, func(tx WriteTx) error {
			say := content("long")
			say.Worked.Hours, say.Worked.TotalMinor = hours, c.total
			_, err := tx.ChangeQuote(q.ID, int64(i+1), say)
			return err
		})
		read(t, s, p, func(tx ReadTx) error {
			now, err := tx.Quote(q.ID)
			if !now.Hours.Equal(hours) || now.TotalMinor != c.total {
				t.Errorf("kept %s h and %d, want %s and %d", now.Hours, now.TotalMinor, c.hours, c.total)
			}
			return err
		})
	}
	sound(t, s, p)
}

// Zero values of every kind are written, not passed over.
func TestZerosAreWritten(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	q := addQuote(t, s, p, "long")
	write(t, s, p, func(tx WriteTx) error {
		_, err := tx.ChangeQuote(q.ID, 1, QuoteContent{Worked: Worked{Release: 1, Edition: "2026-spring", Currency: "GBP"}, Vans: []QuoteVan{{}}, Asked: Pack(nil)})
		return err
	})
	read(t, s, p, func(tx ReadTx) error {
		now, err := tx.Quote(q.ID)
		if now.Vans[0] != (QuoteVan{}) || now.TotalMinor != 0 || !now.Hours.IsZero() {
			t.Errorf("kept %+v", now)
		}
		return err
	})
}

func TestQuoteComesBackAsCreated(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	made := addQuote(t, s, p, "long")
	if made.Number != 1 || made.Version != 1 || made.State != Draft || made.Revision != 1 || made.Vans[0].Plate != "ab12 cde" {
		t.Errorf("created %+v", made)
	}
	read(t, s, p, func(tx ReadTx) error {
		got, err := tx.Quote(made.ID)
		if !sameEntry(got, made) {
			t.Errorf("read    %+v\ncreated %+v", got, made)
		}
		first, err2 := tx.Revision(made.ID, 1)
		plain, err3 := first.Asked.Unpack()
		if string(plain) != "quote on long" {
			t.Errorf("its text is %q", plain)
		}
		return errors.Join(err, err2, err3)
	})
}

func TestQuotesAreListedNewestFirstPageByPage(t *testing.T) {
	t.Parallel()
	o := steady()
	o.Now = nil
	s := open(t, fresh(t), o) // many quotes in the same microsecond are told apart by id
	p := workshop(t, s, "fenland")
	const many = 25
	write(t, s, p, func(tx WriteTx) error {
		for i := range many {
			c := content(fmt.Sprint("van ", i))
			c.Vans[0].Plate = []string{"AA11 AAA", "bb22-bbb"}[i%2]
			if _, err := tx.CreateQuote(c); err != nil {
				return err
			}
		}
		return nil
	})
	pages := func(f QuoteFilter) (vans []string) {
		for {
			var next *Place
			read(t, s, p, func(tx ReadTx) error {
				list, n, err := tx.Quotes(f)
				if len(list) > f.Limit || (n != nil && len(list) < f.Limit) {
					t.Errorf("a page of %d holds %d", f.Limit, len(list))
				}
				for _, q := range list {
					vans = append(vans, q.Vans[0].BaseVan)
				}
				next = n
				return err
			})
			if next == nil {
				return vans
			}
			f.After = next
			// One created between two pages is not on the next one.
			if len(vans) == 10 {
				addQuote(t, s, p, "in between")
			}
		}
	}
	var all, odd []string
	for i := many - 1; i >= 0; i-- {
		all = append(all, fmt.Sprint("van ", i))
		if i%2 == 1 {
			odd = append(odd, fmt.Sprint("van ", i))
		}
	}
	if got := pages(QuoteFilter{Limit: 10}); !slices.Equal(got, all) {
		t.Errorf("listed %v\nwant   %v", got, all)
	}
	if got := pages(QuoteFilter{Registration: "Bb22 BBB", Limit: 5}); !slices.Equal(got, odd) {
		t.Errorf("listed %v\nwant   %v", got, odd)
	}
	if got := pages(QuoteFilter{Registration: "zz99zzz", Limit: 5}); got != nil {
		t.Errorf("listed %v for a van nobody has", got)
	}
	for _, limit := range []int{0, -1, 1000} {
		read(t, s, p, func(tx ReadTx) error {
			list, next, err := tx.Quotes(QuoteFilter{Limit: limit})
			if len(list) != many+2 || next != nil {
				t.Errorf("limit %d lists %d and goes on at %v", limit, len(list), next)
			}
			return err
		})
	}
	for limit, want := range map[int]int{-5: 50, 0: 50, 7: 7, 200: 200, 1 << 40: 200} {
		if got := bounded(limit); got != want {
			t.Errorf("a limit of %d gives pages of %d, want %d", limit, got, want)
		}
	}
}

// The lists must be walks along an index, or they slow down with every quote.
func TestListsUseTheirIndexes(t *testing.T) {
	t.Parallel()
	l := otherLine(t, freshFile(t))
	for index, query := range map[string]string{
		"quotes_newest":   "SELECT id FROM quotes WHERE workshop_id = ? ORDER BY created_us DESC, id DESC LIMIT 51",
		"quotes_by_state": "SELECT id FROM quotes WHERE workshop_id = ? AND (state = 'x') AND ((created_us, id) < (1, 'x')) ORDER BY created_us DESC, id DESC LIMIT 51",
		// These leave out the rows nobody looks for by them; the planner must see that.
		"quotes_of_a_customer": "SELECT id FROM quotes WHERE workshop_id = ?1 AND (customer = ?1) ORDER BY created_us DESC, id DESC LIMIT 51",
		"quotes_of_an_enquiry": "SELECT id FROM quotes WHERE workshop_id = ?1 AND (enquiry = ?1)",
		"quotes_to_follow_up":  "SELECT id FROM quotes WHERE workshop_id = ?1 AND (follow_up_on <> '' AND follow_up_on <= ?1)",
		"quote_vans_of_a_van":  "SELECT v.quote FROM vans k JOIN quote_vans v ON v.workshop_id = k.workshop_id AND v.van = k.id WHERE k.workshop_id = ?1 AND k.registration >= ?1",
	} {
		plan := ""
		for _, step := range ask(t, l, "EXPLAIN QUERY PLAN "+query, "w") {
			plan += step[3] + "\n"
		}
		if !strings.Contains(plan, index) || strings.Contains(plan, "TEMP B-TREE") {
			t.Errorf("%s:\n%s", index, plan)
		}
	}
}

func TestWhatIsNotThereIsNotFound(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p, other := workshop(t, s, "fenland"), workshop(t, s, "moorside")
	for name, do := range map[string]func(WriteTx) error{
		"quote":          func(tx WriteTx) error { _, err := tx.Quote(idNumber(99)); return err },
		"change":         func(tx WriteTx) error { _, err := tx.ChangeQuote(idNumber(99), 1, content("x")); return err },
		"person":         func(tx WriteTx) error { _, err := tx.Person(other.Person); return err },
		"password":       func(tx WriteTx) error { return tx.SetPassword(other.Person, "stolen") },
		"leaving":        func(tx WriteTx) error { _, err := tx.PersonLeaves(other.Person, 1); return err },
		"release":        func(tx WriteTx) error { _, err := tx.Release(2); return err },
		"edition":        func(tx WriteTx) error { _, err := tx.Edition("2031"); return err },
		"edition by day": func(tx WriteTx) error { _, err := tx.EditionInForce("2026-02-28"); return err },
	} {
		if err := s.As(p).Write(t.Context(), do); !errors.Is(err, ErrNotFound) {
			t.Errorf("%s: %v, want ErrNotFound", name, err)
		}
	}
	if found, err := s.FindSignIn(t.Context(), "moorside", "owner@moorside.example"); err != nil || found.PasswordHash != "$argon2id$of-moorside" {
		t.Errorf("the other workshop's password is now %q, %v", found.PasswordHash, err)
	}
	// A not-found is no reason to give the transaction up.
	write(t, s, p, func(tx WriteTx) error {
		if _, err := tx.Quote(idNumber(99)); !errors.Is(err, ErrNotFound) {
			t.Error(err)
		}
		_, err := tx.CreateQuote(content("after looking"))
		return err
	})
}

func TestReleases(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	for i := range 4 {
		write(t, s, p, func(tx WriteTx) error {
			made, err := tx.PublishRelease(fmt.Sprint("hash ", i+2), Pack(fmt.Append(nil, "catalogue ", i+2)))
			if made.Number != int64(i+2) {
				t.Errorf("release %d, want %d", made.Number, i+2)
			}
			return err
		})
	}
	read(t, s, p, func(tx ReadTx) error {
		latest, err := tx.LatestRelease()
		if err != nil || latest.Number != 5 || latest.Hash != "hash 5" || latest.PublishedBy != p.Person {
			t.Errorf("latest: %+v, %v", latest.ReleaseEntry, err)
		}
		third, err := tx.Release(3)
		if err != nil {
			return err
		}
		if text, err := third.Document.Unpack(); string(text) != "catalogue 3" {
			t.Errorf("the third says %q, %v", text, err)
		}
		page, err := tx.Releases(4, 2)
		if len(page) != 2 || page[0].Number != 3 || page[1].Number != 2 {
			t.Errorf("two before the fourth: %v", page)
		}
		all, err2 := tx.Releases(0, 0)
		if len(all) != 5 || all[0].Number != 5 {
			t.Errorf("all: %v", all)
		}
		return errors.Join(err, err2)
	})
	other := workshop(t, s, "moorside")
	read(t, s, other, func(tx ReadTx) error {
		latest, err := tx.LatestRelease()
		if latest.Number != 1 || latest.Hash != "hash of moorside" {
			t.Errorf("the other workshop's latest: %+v", latest.ReleaseEntry)
		}
		return err
	})
}

func TestEditionInForce(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	write(t, s, p, func(tx WriteTx) error {
		for _, day := range []string{"2026-09-01", "2026-06-01"} {
			_, err := tx.AddEdition(NewEdition{Code: "from " + day, InForceFrom: day, Currency: "GBP", Hash: day, Document: Pack([]byte(day))})
			if err != nil {
				return err
			}
		}
		return nil
	})
	read(t, s, p, func(tx ReadTx) error {
		for day, want := range map[string]string{
			"2026-03-01": "2026-spring", "2026-05-31": "2026-spring", "2026-06-01": "from 2026-06-01",
			"2026-08-31": "from 2026-06-01", "2026-09-01": "from 2026-09-01", "2099-12-31": "from 2026-09-01",
		} {
			e, err := tx.EditionInForce(day)
			if err != nil || e.Code != want {
				t.Errorf("on %s: %q, %v; want %q", day, e.Code, err, want)
			}
		}
		if _, err := tx.EditionInForce("1 June"); !errors.Is(err, ErrRefused) {
			t.Errorf("on no day: %v", err)
		}
		all, err := tx.Editions("", 0)
		if len(all) != 3 || all[0].Code != "from 2026-09-01" || all[2].Code != "2026-spring" {
			t.Errorf("all: %v", all)
		}
		page, err2 := tx.Editions("2026-09-01", 1)
		if len(page) != 1 || page[0].Code != "from 2026-06-01" {
			t.Errorf("one before September: %v", page)
		}
		return errors.Join(err, err2)
	})
}

func TestSigningIn(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p, other := workshop(t, s, "fenland"), workshop(t, s, "moorside")
	var seller Person
	write(t, s, p, func(tx WriteTx) (err error) {
		seller, err = tx.AddPerson(NewPerson{Name: "Sal", Email: " Sal@Both.example ", Role: auth.Sales, PasswordHash: "here"})
		return err
	})
	// The same address in another workshop is another person.
	write(t, s, other, func(tx WriteTx) error {
		_, err := tx.AddPerson(NewPerson{Name: "Sal", Email: "sal@both.example", Role: auth.Books, PasswordHash: "there"})
		return err
	})
	found, err := s.FindSignIn(t.Context(), "fenland", "SAL@both.example")
	want := SignIn{Principal: auth.Principal{Workshop: p.Workshop, Person: seller.ID, Role: auth.Sales}, PasswordHash: "here"}
	if err != nil || found != want {
		t.Errorf("found %+v, %v; want %+v", found, err, want)
	}
	for _, c := range [][2]string{
		{"fenland", "owner@moorside.example"}, {"Fenland", "sal@both.example"}, {"", ""},
		{"fenland' OR '1'='1", "sal@both.example"}, {"fenland", "%"},
	} {
		if found, err := s.FindSignIn(t.Context(), c[0], c[1]); !errors.Is(err, ErrNotFound) {
			t.Errorf("%q: %+v, %v; want ErrNotFound", c, found, err)
		}
	}
	write(t, s, p, func(tx WriteTx) error { return tx.SetPassword(seller.ID, "new") })
	if found, err := s.FindSignIn(t.Context(), "fenland", "sal@both.example"); err != nil || found.PasswordHash != "new" {
		t.Errorf("after a change: %+v, %v", found, err)
	}
	write(t, s, p, func(tx WriteTx) error { _, err := tx.PersonLeaves(seller.ID, seller.Version); return err })
	if _, err := s.FindSignIn(t.Context(), "fenland", "sal@both.example"); !errors.Is(err, ErrNotFound) {
		t.Errorf("after leaving: %v", err)
	}
	read(t, s, p, func(tx ReadTx) error {
		people, err := tx.People()
		if len(people) != 2 || people[1].ID != seller.ID || people[1].LeftAt.IsZero() || !people[0].LeftAt.IsZero() {
			t.Errorf("people: %+v", people)
		}
		return err
	})
}

func TestWorkshops(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	two, one := workshop(t, s, "moorside"), workshop(t, s, "fenland")
	list, err := s.Workshops(t.Context())
	if err != nil || len(list) != 2 || list[0].ID != one.Workshop || list[1].ID != two.Workshop {
		t.Errorf("workshops: %v, %v", list, err)
	}
	read(t, s, one, func(tx ReadTx) error {
		w, err := tx.Workshop()
		if w != list[0] || w.Name != "Workshop fenland" || w.TimeZone != "Europe/London" || w.Currency != "GBP" {
			t.Errorf("the workshop itself: %+v", w)
		}
		return err
	})
	if _, err := openWorkshop(s, "fenland"); !errors.Is(err, ErrTaken) {
		t.Errorf("a code twice: %v, want ErrTaken", err)
	}
	if list, err := s.Workshops(t.Context()); err != nil || len(list) != 2 {
		t.Errorf("after the refusal: %v, %v", list, err)
	}
}

func TestPackedIsWhatWasPacked(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		plain := rapid.SliceOf(rapid.Byte()).Draw(t, "plain")
		p := Pack(plain)
		if again := Pack(plain); !bytes.Equal(again.zipped, p.zipped) {
			t.Fatal("the same bytes pack differently")
		}
		got, err := p.Unpack()
		if err != nil || !bytes.Equal(got, plain) {
			t.Fatalf("%v, %v", got, err)
		}
		i := rapid.IntRange(0, len(p.zipped)-1).Draw(t, "at")
		spoilt := Packed{zipped: slices.Clone(p.zipped), sum: p.sum}
		spoilt.zipped[i] ^= byte(rapid.IntRange(1, 255).Draw(t, "flip"))
		if got, err := spoilt.Unpack(); err == nil && !bytes.Equal(got, plain) {
			t.Fatal("damage went unseen")
		} else if err != nil && !errors.Is(err, ErrDocument) {
			t.Fatal(err)
		}
	})
	// The library reads what is short as well: the frames are zstd's either way.
	for _, n := range []int{0, 1, 255, 256, 257, packFrom - 1, packFrom} {
		plain := bytes.Repeat([]byte("van "), n)[:n]
		if got, err := decoder().DecodeAll(Pack(plain).zipped, nil); err != nil || !bytes.Equal(got, plain) {
			t.Errorf("%d bytes come back as %d: %v", n, len(got), err)
		}
	}
	// A small document that unpacks to far more than any we pack.
	bomb := Pack(make([]byte, 4*MaxDocument))
	if _, err := bomb.Unpack(); !errors.Is(err, ErrDocument) {
		t.Errorf("%d bytes unpacked to %d: %v", len(bomb.zipped), 4*MaxDocument, err)
	}
}

func TestPlainForms(t *testing.T) {
	t.Parallel()
	for typed, want := range map[string]string{
		"ab12 cde": "AB12CDE", " AB-12-CDE ": "AB12CDE", "": "", "ö-xy 123": "ÖXY123", "' OR 1=1": "OR11",
	} {
		if got := PlainRegistration(typed); got != want {
			t.Errorf("PlainRegistration(%q) = %q, want %q", typed, got, want)
		}
	}
	if got := PlainEmail(" Sal@Both.EXAMPLE\t"); got != "sal@both.example" {
		t.Errorf("PlainEmail gives %q", got)
	}
}
