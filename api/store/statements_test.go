package store

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"wainscot/api/auth"
	"wainscot/api/store/storetest"
	"wainscot/bom/document"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/statement"
)

func pence(minor int64) money.Amount {
	a, _ := money.FromMinor(minor, "GBP")
	return a
}

// bankLine is a line of a statement: day, pence, words, and who.
func bankLine(day string, minor int64, words, party string) statement.Line {
	return statement.Line{Day: day, Amount: pence(minor), Words: words, Party: party}
}

// bankStatement is a statement with its balances.
func bankStatement(opening int64, from, until string, lines ...statement.Line) *statement.Statement {
	closing := opening
	for _, l := range lines {
		closing += l.Amount.Minor()
	}
	first, last := pence(opening), pence(closing)
	return &statement.Statement{Source: statement.CSV, Account: "GB1", Currency: "GBP", From: from, Until: until, Opening: &first, Closing: &last, Lines: lines}
}

func addAccount(tx WriteTx) (BankAccount, error) {
	return tx.AddBankAccount(BankAccount{Name: "Current", Number: "GB1", Holds: ledger.Bank, Account: statement.Account{Currency: "GBP"}})
}

// importOne imports as whoever asks, by the rules in force.
func importOne(tx WriteTx, account uuid.UUID, s *statement.Statement) (Imported, error) {
	rules, err := tx.RulesInForce()
	if err != nil {
		return Imported{}, err
	}
	return tx.ImportStatement(account, s, rules)
}

// codeOf is the code of the first fault, "" for none.
func codeOf(err error) string {
	if faults, ok := errors.AsType[document.Faults](err); ok {
		return faults[0].Code
	}
	return ""
}

// statementFor is a statement with a line in each state that needs no ledger.
func statementFor(tx WriteTx) error {
	m, err := tx.AddColumnMap("from the bank", statement.Columns{Between: ",", Day: "Date", DayOrder: statement.DayMonthYear, Amount: "Amount", Decimal: "."})
	if err != nil {
		return err
	}
	b, err := addAccount(tx)
	if err == nil {
		_, err = tx.ChangeBankAccount(b.ID, 1, "Current account", ledger.Bank, m.ID)
	}
	if err == nil {
		_, _, err = tx.AddSetAsideRule("Wages", statement.Rule{Words: "wages", Side: statement.Out})
	}
	if err != nil {
		return err
	}
	paid := bankLine("2026-04-03", 25000, "deposit", "A CUSTOMER")
	paid.PartyAccount, paid.Reference, paid.EndToEnd, paid.BankID = "GB2", "RF18539007547034", "E1", "B7"
	foreign := money.Zero("EUR")
	paid.Foreign = &statement.Foreign{Amount: foreign, Rate: "1.17"}
	_, err = importOne(tx, b.ID, bankStatement(100, "2026-04-02", "2026-04-04", bankLine("2026-04-02", -180000, "WAGES", "T CARDEW"), paid))
	return err
}

func TestStatementsComeInOnce(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p, other := workshop(t, s, "fenland"), workshop(t, s, "moorside")
	var account uuid.UUID
	write(t, s, p, func(tx WriteTx) error {
		b, err := addAccount(tx)
		account = b.ID
		return err
	})
	if err := s.As(p).Write(t.Context(), func(tx WriteTx) error { _, err := addAccount(tx); return err }); !errors.Is(err, ErrTaken) {
		t.Errorf("the account a second time: %v", err)
	}
	bring := func(st *statement.Statement) (done Imported, err error) {
		err = s.As(p).Write(t.Context(), func(tx WriteTx) error {
			done, err = importOne(tx, account, st)
			return err
		})
		return done, err
	}
	head := func() (h JournalHead) {
		read(t, s, p, func(tx ReadTx) (err error) { h, err = tx.JournalHead(); return err })
		return h
	}
	one, two := bankLine("2026-11-02", 500, "a", ""), bankLine("2026-11-03", -200, "b", "")
	first := bankStatement(1000, "2026-11-02", "2026-11-03", one, two)
	if done, err := bring(first); err != nil || done.Statement.New != 2 || done.Account.Closing.Minor() != 1300 {
		t.Fatalf("%+v, %v", done, err)
	}
	before := head()
	if done, err := bring(first); err != nil || done.Statement.New != 0 || done.Statement.ID != uuid.Nil {
		t.Errorf("again: %+v, %v", done, err)
	}
	if head() != before {
		t.Error("the same again has written something")
	}
	gap := bankStatement(1250, "2026-11-05", "2026-11-05", bankLine("2026-11-05", 1, "d", ""))
	if _, err := bring(gap); codeOf(err) != "does_not_follow" {
		t.Errorf("over a gap: %v", err)
	}
	if head() != before {
		t.Error("what was refused has written something")
	}
	over := bankStatement(1500, "2026-11-03", "2026-11-04", two, bankLine("2026-11-04", -50, "c", ""))
	if done, err := bring(over); err != nil || done.Statement.New != 1 || done.Account.Lines != 3 {
		t.Errorf("over: %+v, %v", done, err)
	}
	if done, err := bring(gap); err != nil || done.Account.Closing.Minor() != 1251 {
		t.Errorf("after it: %+v, %v", done, err)
	}
	read(t, s, other, func(tx ReadTx) error {
		list, _, err := tx.StatementLines(LineFilter{})
		all, _, err2 := tx.Statements(uuid.Nil, nil, 0)
		if _, missing := tx.BankAccount(account); len(list)+len(all) > 0 || !errors.Is(missing, ErrNotFound) {
			t.Errorf("another workshop sees %d lines of %d statements", len(list), len(all))
		}
		return errors.Join(err, err2)
	})
	read(t, s, p, func(tx ReadTx) error {
		var words []string
		f := LineFilter{Account: account, State: LineOpen, From: "2026-11-03", Until: "2026-11-05", Limit: 2}
		for {
			list, more, err := tx.StatementLines(f)
			if err != nil {
				return err
			}
			for _, l := range list {
				words, f.AfterDay, f.AfterID = append(words, l.Words), l.Day, l.ID
			}
			if !more {
				break
			}
		}
		if got := strings.Join(words, ""); got != "bcd" {
			t.Errorf("the lines are %q", got)
		}
		since, err := tx.LinesSince(account, "2026-11-03")
		if fmt.Sprint(since) != "[{2026-11-04 open {1 -50}} {2026-11-05 open {1 1}}]" {
			t.Errorf("since: %v", since)
		}
		return err
	})
	sound(t, s, p)
}

// TestLinesAreSetAside: whatever comes in, is set aside by rule or hand and
// taken back in whatever order, the sums of an account are those of its lines,
// nothing comes in twice, and what was taken back by hand no rule takes again.
func TestLinesAreSetAside(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	number := 0
	rapid.Check(t, func(rt *rapid.T) {
		number++
		m := &aside{t: t, rt: rt, s: s, p: p, state: map[string]LineState{}, kept: map[string]bool{},
			words: []string{fmt.Sprint("wages", number), fmt.Sprint("rent", number)}}
		write(t, s, p, func(tx WriteTx) error {
			b, err := tx.AddBankAccount(BankAccount{Name: "A", Number: fmt.Sprint("GB", number), Holds: ledger.Bank, Account: statement.Account{Currency: "GBP"}})
			m.account = b.ID
			return err
		})
		for range rapid.IntRange(1, 12).Draw(rt, "steps") {
			switch rapid.IntRange(0, 4).Draw(rt, "what") {
			case 0, 1:
				m.bring()
			case 2:
				m.rule()
			case 3:
				m.end()
			case 4:
				m.byHand()
			}
			m.check()
		}
		for len(m.rules) > 0 { // they are the workshop's, and another case comes
			m.end()
		}
	})
	sound(t, s, p)
}

// aside is what should be.
type aside struct {
	t       *testing.T
	rt      *rapid.T
	s       *Store
	p       auth.Principal
	account uuid.UUID
	words   []string // of this case alone: a rule takes lines of every account
	days    []statement.Line
	state   map[string]LineState // by words
	kept    map[string]bool
	rules   []SetAsideRule
}

func (m *aside) byWords() map[string]StatementLine {
	all := map[string]StatementLine{}
	read(m.t, m.s, m.p, func(tx ReadTx) error {
		list, _, err := tx.StatementLines(LineFilter{Account: m.account, Limit: 200})
		for _, l := range list {
			all[l.Words] = l
		}
		return err
	})
	return all
}

// bring imports from some day before the last one on.
func (m *aside) bring() {
	from := rapid.IntRange(max(0, len(m.days)-3), len(m.days)).Draw(m.rt, "from")
	for range rapid.IntRange(1, 3).Draw(m.rt, "new") {
		n := len(m.days)
		words := fmt.Sprintf("%s n%d", rapid.SampledFrom(m.words).Draw(m.rt, "words"), n)
		m.days = append(m.days, bankLine(fmt.Sprintf("2026-%02d-%02d", 1+n/28, 1+n%28), rapid.Int64Range(-900, 900).Draw(m.rt, "pence"), words, ""))
		m.state[words] = LineOpen
		for _, r := range m.rules {
			if strings.HasPrefix(words, r.Words) {
				m.state[words] = LineAside
			}
		}
	}
	opening := int64(0)
	for _, l := range m.days[:from] {
		opening += l.Amount.Minor()
	}
	st := bankStatement(opening, m.days[from].Day, m.days[len(m.days)-1].Day, m.days[from:]...)
	write(m.t, m.s, m.p, func(tx WriteTx) error { _, err := importOne(tx, m.account, st); return err })
}

func (m *aside) rule() {
	words := rapid.SampledFrom(m.words).Draw(m.rt, "rule")
	for _, r := range m.rules {
		if r.Words == words {
			return
		}
	}
	want := 0
	for w, state := range m.state {
		if state == LineOpen && strings.HasPrefix(w, words) && !m.kept[w] {
			m.state[w] = LineAside
			want++
		}
	}
	write(m.t, m.s, m.p, func(tx WriteTx) error {
		r, set, err := tx.AddSetAsideRule(words, statement.Rule{Words: words})
		m.rules = append(m.rules, r)
		if set != want {
			m.rt.Errorf("%d lines were set aside, want %d", set, want)
		}
		return err
	})
}

func (m *aside) end() {
	if len(m.rules) == 0 {
		return
	}
	i := rapid.IntRange(0, len(m.rules)-1).Draw(m.rt, "ended")
	back := rapid.Bool().Draw(m.rt, "back")
	if back {
		for w, l := range m.byWords() {
			if l.Rule == m.rules[i].ID {
				m.state[w] = LineOpen
			}
		}
	}
	write(m.t, m.s, m.p, func(tx WriteTx) error {
		_, _, err := tx.EndSetAsideRule(m.rules[i].ID, m.rules[i].Version, back)
		return err
	})
	m.rules = append(m.rules[:i:i], m.rules[i+1:]...)
}

func (m *aside) byHand() {
	if len(m.days) == 0 {
		return
	}
	words := rapid.SampledFrom(m.days).Draw(m.rt, "line").Words
	set := rapid.Bool().Draw(m.rt, "set")
	id := m.byWords()[words].ID
	err := m.s.As(m.p).Write(m.rt.Context(), func(tx WriteTx) (err error) {
		if set {
			_, err = tx.SetLineAside(id)
		} else {
			_, err = tx.TakeLineBack(id)
		}
		return err
	})
	if may := set == (m.state[words] == LineOpen); may != (err == nil) || err != nil && !errors.Is(err, ErrState) {
		m.rt.Fatalf("%s is %s: %v", words, m.state[words], err)
	}
	switch {
	case err != nil:
	case set:
		m.state[words] = LineAside
	default:
		m.state[words], m.kept[words] = LineOpen, true
	}
}

func (m *aside) check() {
	lines := m.byWords()
	if len(lines) != len(m.state) {
		m.rt.Fatalf("%d lines, want %d", len(lines), len(m.state))
	}
	for w, want := range m.state {
		if l := lines[w]; l.State != want || l.KeptOpen != m.kept[w] {
			m.rt.Fatalf("%s is %s, want %s", w, l.State, want)
		}
	}
	read(m.t, m.s, m.p, func(tx ReadTx) error { _, err := tx.VerifyJournal(); return err })
}

// What a bank said is changed behind the store's back, and it is found.
func TestStatementsThatWereTamperedWith(t *testing.T) {
	t.Parallel()
	drop := "DROP TRIGGER statement_line_is_not_removed; DROP TRIGGER statement_is_not_changed; PRAGMA foreign_keys = OFF; "
	if storetest.OnPostgres() {
		drop = "SET session_replication_role = replica; "
	}
	for sql, says := range map[string]string{
		`UPDATE statement_lines SET amount_minor = amount_minor + 1 WHERE number = 2`: "the lines of account",
		`UPDATE statement_lines SET state = 'set aside' WHERE number = 2`:             "the lines of account",
		`UPDATE statement_lines SET day = '2026-04-05' WHERE number = 1`:              "the lines of account",
		`DELETE FROM statement_lines WHERE number = 1`:                                "line 1 of account",
		`DELETE FROM statement_lines WHERE number = 2`:                                "the lines of account",
		`UPDATE bank_accounts SET closing_minor = 1`:                                  "bank account",
		`UPDATE statements SET new_lines = 1`:                                         "statement",
		`UPDATE column_maps SET columns = '{}'`:                                       "column map",
		`UPDATE set_aside_rules SET side = 'in'`:                                      "set-aside rule",
	} {
		path := fresh(t)
		s := open(t, path, steady())
		p := workshop(t, s, "fenland")
		write(t, s, p, statementFor)
		sound(t, s, p)
		if err := otherLine(t, path).exec(t.Context(), drop+sql); err != nil {
			t.Fatal(err)
		}
		err := s.As(p).Read(t.Context(), func(tx ReadTx) error { _, err := tx.VerifyJournal(); return err })
		if !errors.Is(err, ErrJournal) || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v, want %q", sql, err, says)
		}
	}
	// What is personal may go, and all still holds.
	path := fresh(t)
	s := open(t, path, steady())
	p := workshop(t, s, "fenland")
	write(t, s, p, statementFor)
	if err := otherLine(t, path).exec(t.Context(), `UPDATE statement_lines SET words = '', party = '', party_account = '', reference = '', end_to_end = '', bank_id = ''`); err != nil {
		t.Fatal(err)
	}
	sound(t, s, p)
}

func TestRulesAndMapsChangeByVersion(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	write(t, s, p, statementFor)
	refused := func(want error, fn func(tx WriteTx) error) {
		t.Helper()
		if err := s.As(p).Write(t.Context(), fn); !errors.Is(err, want) {
			t.Errorf("%v, want %v", err, want)
		}
	}
	var m ColumnMap
	var r SetAsideRule
	var b BankAccount
	read(t, s, p, func(tx ReadTx) error {
		maps, err := tx.ColumnMaps()
		rules, _, err2 := tx.SetAsideRules(nil, 10)
		accounts, err3 := tx.BankAccounts()
		if len(maps) != 1 || len(rules) != 1 || len(accounts) != 1 {
			t.Fatalf("%v %v %v", maps, rules, accounts)
		}
		m, r, b = maps[0], rules[0], accounts[0]
		return errors.Join(err, err2, err3)
	})
	if m.Columns.Day != "Date" || r.Words != "wages" || r.Side != statement.Out || b.Columns != m.ID || b.Aside != (LineSum{1, -180000}) {
		t.Errorf("%+v %+v %+v", m, r, b)
	}
	refused(ErrStale, func(tx WriteTx) error { _, err := tx.ChangeColumnMap(m.ID, m.Version+1, "x", m.Columns); return err })
	refused(ErrTaken, func(tx WriteTx) error { _, err := tx.AddColumnMap(m.Name, m.Columns); return err })
	refused(ErrStale, func(tx WriteTx) error { _, _, err := tx.EndSetAsideRule(r.ID, r.Version+1, true); return err })
	refused(ErrStale, func(tx WriteTx) error {
		_, err := tx.ChangeBankAccount(b.ID, b.Version-1, "x", ledger.Bank, uuid.Nil)
		return err
	})
	refused(ErrMissing, func(tx WriteTx) error {
		_, err := tx.ChangeBankAccount(b.ID, b.Version, "x", ledger.Bank, b.ID)
		return err
	})
	refused(ErrNotFound, func(tx WriteTx) error { _, err := tx.SetLineAside(b.ID); return err })
	write(t, s, p, func(tx WriteTx) error {
		_, back, err := tx.EndSetAsideRule(r.ID, r.Version, true)
		if back != 1 {
			t.Errorf("%d lines were taken back", back)
		}
		_, err2 := tx.ChangeColumnMap(m.ID, m.Version, "renamed", statement.Columns{Day: "Day"})
		return errors.Join(err, err2)
	})
	refused(ErrState, func(tx WriteTx) error { _, _, err := tx.EndSetAsideRule(r.ID, r.Version+1, true); return err })
	other := bankStatement(0, "2026-05-01", "2026-05-01")
	other.Currency = "EUR"
	err := s.As(p).Write(t.Context(), func(tx WriteTx) error { _, err := importOne(tx, b.ID, other); return err })
	if codeOf(err) != "currency" {
		t.Errorf("in euros: %v", err)
	}
	read(t, s, p, func(tx ReadTx) error {
		one, err := tx.BankAccountOf("GB1", "GBP")
		if one.ID != b.ID {
			t.Errorf("%+v", one)
		}
		open, err2 := tx.OpenTotals(b.ID)
		if fmt.Sprint(open) != "[{2026-04-02 open {1 -180000}} {2026-04-03 open {1 25000}}]" {
			t.Errorf("%v", open)
		}
		list, _, err3 := tx.StatementLines(LineFilter{From: "2026-04-03"})
		if len(list) != 1 || list[0].PartyAccount != "GB2" || list[0].Foreign == nil || list[0].Foreign.Rate != "1.17" || list[0].EndToEnd != "E1" {
			t.Errorf("%+v", list)
		}
		st, err4 := tx.Statement(list[0].Statement)
		if st.Opening.Minor() != 100 || st.New != 2 || st.CreatedBy != p.Person {
			t.Errorf("%+v", st)
		}
		return errors.Join(err, err2, err3, err4)
	})
	sound(t, s, p)
}

// BenchmarkImportStatement keeps 100,000 lines of an account, with fifty rules
// in force, and asks which of them are known.
func BenchmarkImportStatement(b *testing.B) {
	const lines = 100_000
	st := bankStatement(0, "2026-01-01", "2026-12-28")
	for i := range lines {
		st.Lines = append(st.Lines, bankLine(fmt.Sprintf("2026-%02d-%02d", 1+i*12/lines, 1+i%28), int64(i%4001-2000), fmt.Sprintf("PAYMENT %d FOR THE VAN", i), fmt.Sprintf("CUSTOMER %d", i%5000)))
	}
	closing := int64(0)
	for i := range st.Lines {
		closing += st.Lines[i].Amount.Minor()
	}
	last := pence(closing)
	st.Closing = &last
	for b.Loop() {
		s := open(b, fresh(b), Options{})
		p := workshop(b, s, "fenland")
		var account uuid.UUID
		write(b, s, p, func(tx WriteTx) error {
			for i := range 50 {
				if _, _, err := tx.AddSetAsideRule("rule", statement.Rule{Words: fmt.Sprintf("nobody %d", i)}); err != nil {
					return err
				}
			}
			a, err := addAccount(tx)
			account = a.ID
			return err
		})
		for range 2 {
			write(b, s, p, func(tx WriteTx) error { _, err := importOne(tx, account, st); return err })
		}
	}
}
