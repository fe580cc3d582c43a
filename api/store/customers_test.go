package store

import (
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/bom"
	"wainscot/pricing/quote"
)

// someone is a private customer.
func someone(name, given string) CustomerContent {
	return CustomerContent{Kind: quote.Private, Name: name, GivenNames: given, KeepUntil: "2032-11-25"}
}

func addCustomer(tb testing.TB, s *Store, p auth.Principal, c CustomerContent) Customer {
	tb.Helper()
	var made Customer
	write(tb, s, p, func(tx WriteTx) (err error) { made, err = tx.AddCustomer(c); return err })
	return made
}

func addVan(tb testing.TB, s *Store, p auth.Principal, keeper uuid.UUID, plate string) Van {
	tb.Helper()
	var made Van
	write(tb, s, p, func(tx WriteTx) (err error) {
		made, err = tx.AddVan(VanContent{Customer: keeper, Facts: bom.Van{BaseVan: "short", Registration: plate}})
		return err
	})
	return made
}

func TestCustomerComesBackAsKept(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	days := 30
	said := CustomerContent{
		Kind: quote.Trade, Name: "Hollow Lane Hire", GivenNames: "-", Contact: "Bram", Telephone: "01632 960001",
		OtherTelephone: "+44 7700 900123", Email: " Bram@Hollow.Example ", Address: Address{Lines: []string{"2 Larch Row", `a "b"`}, Postcode: "QX4 1ZZ", Country: "GB"},
		PriceList: "trade", CreditDays: &days, VATNumber: "GB 000", Notes: "likes tea", KeepUntil: "2032-11-25",
	}
	made := addCustomer(t, s, p, said)
	read(t, s, p, func(tx ReadTx) error {
		got, err := tx.Customer(made.ID)
		want := said
		want.Email = "bram@hollow.example"
		if !reflect.DeepEqual(got.CustomerContent, want) || got.Version != 1 {
			t.Errorf("kept %+v\nsaid %+v", got, want)
		}
		return err
	})
	nothing := 0
	said.CreditDays, said.Notes, said.KeepUntil = &nothing, "", ""
	write(t, s, p, func(tx WriteTx) error {
		got, err := tx.ChangeCustomer(made.ID, 1, said)
		if got.Version != 2 || got.CreditDays == nil || *got.CreditDays != 0 || got.Notes != "" || got.KeepUntil != "2032-11-25" {
			t.Errorf("changed to %+v", got)
		}
		return err
	})
	refused := func(want error, fn func(WriteTx) error) {
		t.Helper()
		if err := s.As(p).Write(t.Context(), fn); !errors.Is(err, want) {
			t.Errorf("%v, and not %v", err, want)
		}
	}
	refused(ErrStale, func(tx WriteTx) error { _, err := tx.ChangeCustomer(made.ID, 1, said); return err })
	refused(ErrNotFound, func(tx WriteTx) error { _, err := tx.ChangeCustomer(uuid.New(), 1, said); return err })
	refused(ErrRefused, func(tx WriteTx) error { _, err := tx.AddCustomer(someone("", "Nobody")); return err })
	refused(ErrMissing, func(tx WriteTx) error { _, err := tx.AddVan(VanContent{Customer: uuid.New()}); return err })
	refused(ErrMissing, func(tx WriteTx) error {
		_, err := tx.AddEnquiry(EnquiryContent{Van: uuid.New(), ReceivedOn: "2026-11-25", State: EnquiryOpen})
		return err
	})
	refused(ErrMissing, func(tx WriteTx) error {
		_, err := tx.AddReservation(NewReservation{Customer: uuid.New(), DepositMinor: 1, Currency: "GBP", ReservationContent: ReservationContent{AgreeBy: "2027-01-01", State: quote.Held}})
		return err
	})
	sound(t, s, p)
}

// What is typed into the one box, and who is found by it, in what order.
func TestFindingCustomers(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p, other := workshop(t, s, "fenland"), workshop(t, s, "moorside")
	named := map[uuid.UUID]string{}
	add := func(name, given, telephone, email string, plates ...string) {
		c := someone(name, given)
		c.Telephone, c.Email = telephone, email
		made := addCustomer(t, s, p, c)
		named[made.ID] = strings.TrimSpace(name + " " + given)
		for _, plate := range plates {
			addVan(t, s, p, made.ID, plate)
		}
	}
	add("Fairweather", "Ottoline", "01632 960115", "ottoline@fairweather.example", "WT24 DMO", "FA11 WEA")
	add("Fairlie", "Dougal", "+44 (0)7700 900123", "dougal@fairlie.example")
	add("O’Dúill", "Gráinne", "00353 20 910 0123", "grainne_d@oduill.example", "AB12 CDE")
	add("Strauß", "Jürgen", "07700 900456 x21", "juergen@strauss.example", "WT24 DMX")
	add("Hollow Lane Hire", "", "01632 960200", "100%@hollow.example", "ZZ99 ABC")
	add("Zabel", "Fair", "", "", "FAI 123")
	add("Čapková", "Ałena", "01632 960777", "")
	addCustomer(t, s, other, someone("Fairweather", "Theirs"))
	for _, c := range []struct {
		typed string
		want  []string
	}{
		{"", []string{"Čapková Ałena", "Fairlie Dougal", "Fairweather Ottoline", "Hollow Lane Hire", "O’Dúill Gráinne", "Strauß Jürgen", "Zabel Fair"}},
		// Surname or firm, its beginning; case, accents, spaces and signs aside.
		{"fairw", []string{"Fairweather Ottoline"}},
		{"FAIR", []string{"Fairlie Dougal", "Fairweather Ottoline"}},
		{"o'duill", []string{"O’Dúill Gráinne"}},
		{"ODÚ", []string{"O’Dúill Gráinne"}},
		{"strauss", []string{"Strauß Jürgen"}},
		{"capkova a", []string{"Čapková Ałena"}},
		{"hollow lane", []string{"Hollow Lane Hire"}},
		{"HollowLane-h", []string{"Hollow Lane Hire"}},
		// Both names, either first; a given name alone finds nobody.
		{"Fairweather, Otto", []string{"Fairweather Ottoline"}},
		{"ottoline fairw", []string{"Fairweather Ottoline"}},
		{"alena capkova", []string{"Čapková Ałena"}},
		{"gráinne", nil},
		// Registrations: exactly that one first, then what begins with it.
		{"wt24 dmo", []string{"Fairweather Ottoline"}},
		{"WT24", []string{"Fairweather Ottoline", "Strauß Jürgen"}},
		{"fa11wea", []string{"Fairweather Ottoline"}},
		{"fai", []string{"Fairlie Dougal", "Fairweather Ottoline", "Zabel Fair"}},
		{"fai-123", []string{"Zabel Fair"}},
		// Telephones: any part, with or without the country.
		{"960115", []string{"Fairweather Ottoline"}},
		{"01632 960115", []string{"Fairweather Ottoline"}},
		{"+44 1632 960115", []string{"Fairweather Ottoline"}},
		{"0044 1632 960115", []string{"Fairweather Ottoline"}},
		{"07700 900123", []string{"Fairlie Dougal"}},
		{"+44 7700 900123", []string{"Fairlie Dougal"}},
		{"+353 20 910 0123", []string{"O’Dúill Gráinne"}},
		{"020 910 0123", []string{"O’Dúill Gráinne"}},
		{"07700900456", []string{"Strauß Jürgen"}},
		{"01632 960", []string{"Čapková Ałena", "Fairweather Ottoline", "Hollow Lane Hire"}},
		{"960", nil}, // too little
		// E-mail: any part; signs mean themselves.
		{"@fairlie", []string{"Fairlie Dougal"}},
		{"GRAINNE_D@", []string{"O’Dúill Gráinne"}},
		{"grainnexd", nil},
		{"100%@h", []string{"Hollow Lane Hire"}},
		{"100x@h", nil},
		{".example", []string{"Fairlie Dougal", "Fairweather Ottoline", "Hollow Lane Hire", "O’Dúill Gráinne", "Strauß Jürgen"}},
		{"nobody", nil},
		{"--", nil},
		{"%", nil},
	} {
		for _, limit := range []int{1, 2, 50} {
			var got []string
			f := CustomerFilter{Find: c.typed, Limit: limit}
			for range 20 {
				var list []CustomerEntry
				var more bool
				read(t, s, p, func(tx ReadTx) (err error) { list, more, err = tx.Customers(f); return err })
				for _, e := range list {
					got = append(got, named[e.ID])
					f.After = e.ID
				}
				if !more {
					break
				}
				if len(list) != limit {
					t.Errorf("%q: a page of %d holds %d, and there are more", c.typed, limit, len(list))
				}
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("%q, %d a page, finds %q\nand should find %q", c.typed, limit, got, c.want)
			}
		}
	}
}

// A registration of exactly what was typed goes before everybody by name.
func TestExactRegistrationComesFirst(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	late := addCustomer(t, s, p, someone("Zabel", ""))
	early := addCustomer(t, s, p, someone("AB1 Vans", ""))
	middle := addCustomer(t, s, p, someone("Moss", ""))
	addVan(t, s, p, late.ID, "AB1")
	addVan(t, s, p, late.ID, "AB12")
	addVan(t, s, p, middle.ID, "AB12 XYZ")
	for _, limit := range []int{1, 2, 3} {
		var got []uuid.UUID
		f := CustomerFilter{Find: "ab1", Limit: limit}
		for more := true; more; {
			read(t, s, p, func(tx ReadTx) error {
				list, others, err := tx.Customers(f)
				for _, e := range list {
					got, f.After = append(got, e.ID), e.ID
				}
				more = others
				return err
			})
		}
		if want := []uuid.UUID{late.ID, early.ID, middle.ID}; !slices.Equal(got, want) {
			t.Errorf("%d a page: %v, want %v", limit, got, want)
		}
	}
	if err := s.As(p).Read(t.Context(), func(tx ReadTx) error {
		_, _, err := tx.Customers(CustomerFilter{After: uuid.New()})
		return err
	}); !errors.Is(err, ErrNotFound) {
		t.Errorf("going on after nobody: %v", err)
	}
}

func TestPlainNamesAndTelephones(t *testing.T) {
	t.Parallel()
	for typed, want := range map[string]string{
		"O’Dúill": "oduill", "Čapková": "capkova", "Ærwin & Sons (1998) Ltd.": "aerwinsons1998ltd",
		"ﬁeld": "field", "Ångström": "angstrom", "Smith-Jones": "smithjones", "": "", "  ": "", "ΣΊΣΥΦΟΣ": "σισυφοσ", "№ 5": "no5",
	} {
		if got := PlainName(typed); got != want {
			t.Errorf("PlainName(%q) = %q, want %q", typed, got, want)
		}
	}
	for typed, want := range map[string]string{
		"01632 960115": "1632960115", "+44 (0)1632 960115": "441632960115", "0044 1632 960115": "441632960115",
		"(01632) 960-115": "1632960115", "07700 900456 x21": "7700900456", "07700 900456#2": "77009004562", "": "", "+": "",
	} {
		if got := PlainTelephone(typed); got != want {
			t.Errorf("PlainTelephone(%q) = %q, want %q", typed, got, want)
		}
	}
}

func TestSettingsOfAWorkshop(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	read(t, s, p, func(tx ReadTx) error {
		got, err := tx.Settings()
		if got.Version != 1 || got.ValidDays != 30 || got.Country != "GB" || len(got.CancellationRights) == 0 {
			t.Errorf("nothing set yet: %+v", got)
		}
		return err
	})
	said := DefaultSettings("Fenland Vans")
	said.QuoteTerms, said.ValidDays, said.NotIncluded = "Pay.", 14, []string{"Fuel."}
	for version := int64(1); version <= 2; version++ {
		write(t, s, p, func(tx WriteTx) error {
			got, err := tx.ChangeSettings(version, "Fenland Vans", said)
			if got.Version != version+1 || got.QuoteTerms != "Pay." || got.ValidDays != 14 {
				t.Errorf("set %+v", got)
			}
			return err
		})
		for _, stale := range []int64{version, version + 2, 0} {
			err := s.As(p).Write(t.Context(), func(tx WriteTx) error { _, err := tx.ChangeSettings(stale, "x", said); return err })
			if !errors.Is(err, ErrStale) {
				t.Errorf("from version %d: %v", stale, err)
			}
		}
	}
	read(t, s, p, func(tx ReadTx) error {
		w, err := tx.Workshop()
		if w.Name != "Fenland Vans" {
			t.Errorf("the workshop is called %q", w.Name)
		}
		return err
	})
	sound(t, s, p)
}
