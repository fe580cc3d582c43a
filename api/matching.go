package api

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/openapi"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
)

// entryDue is before the number of an entry that is waited for, where it stands
// for a due.
const entryDue = "entry/"

// matching is the open lines of an account, held against all that may explain
// them.
type matching struct {
	ground   moneyGround
	account  store.BankAccount
	lines    []store.StatementLine
	found    map[uuid.UUID][]ledger.Proposal // by line
	dues     map[string]*openDue             // by id
	waiting  []store.MovedEntry
	takings  []money.Amount // by card, not paid out yet, the oldest first
	payouts  map[uuid.UUID]money.Amount
	readings map[string]int64 // amounts of waiting entries, by the due's id
}

// matchingKey is all that a matching follows from: whatever a workshop writes
// is a line of its journal, and with the day what is due may be otherwise.
type matchingKey struct {
	workshop, account uuid.UUID
	head              store.JournalHead
	today             string
}

// matchingsHeld are of accounts that somebody goes through page by page; of
// 100,000 lines one takes some sixty megabytes.
const matchingsHeld = 2

// matchAccount proposes what the open lines of an account are. What it gives is
// shared, and not to be changed.
func (s *Server) matchAccount(tx store.ReadTx, id uuid.UUID, told *progress) (*matching, error) {
	ground, err := readMoneyGround(tx)
	if err != nil {
		return nil, err
	}
	key := matchingKey{workshop: tx.Principal().Workshop, account: id, today: ground.today}
	if key.head, err = tx.JournalHead(); err != nil {
		return nil, err
	}
	if m, ok := s.matchings.get(key); ok {
		return m, nil
	}
	m, err := s.matchAnew(tx, id, ground, told)
	if err == nil {
		s.matchings.put(key, m)
	}
	return m, err
}

// matchAnew reads what is open and works out what lines are.
func (s *Server) matchAnew(tx store.ReadTx, id uuid.UUID, ground moneyGround, told *progress) (*matching, error) {
	m := &matching{ground: ground, found: map[uuid.UUID][]ledger.Proposal{}, dues: map[string]*openDue{}, payouts: map[uuid.UUID]money.Amount{}, readings: map[string]int64{}}
	var err error
	if m.account, err = tx.BankAccount(id); err != nil {
		return nil, err
	}
	if m.lines, err = tx.OpenLines(id); err != nil {
		return nil, err
	}
	if m.waiting, err = tx.WaitingEntries(m.account.Holds, m.account.Currency); err != nil {
		return nil, err
	}
	if m.takings, err = cardTakings(tx, m.account.Currency); err != nil {
		return nil, err
	}
	dues, err := s.duesToMatch(tx, m, told)
	if err != nil {
		return nil, err
	}
	matcher := ledger.NewMatcher(dues, m.account.Currency)
	if err := remember(tx, m, matcher); err != nil {
		return nil, err
	}
	for i := range m.lines {
		if i%tellEvery == 0 {
			told.tell(openapi.ProgressStepLinesCompared, i, len(m.lines))
		}
		l := &m.lines[i]
		var list []ledger.Proposal
		for _, p := range matcher.Match(l.ID.String(), &l.Line) {
			if m.possible(&p) {
				list = append(list, p)
			}
		}
		if len(list) == 0 {
			list = m.payout(l)
		}
		m.found[l.ID] = list
	}
	return m, nil
}

// rememberedDays before today lines that were reconciled are remembered, so that
// one which pays the same again is asked about.
const rememberedDays = 60

func remember(tx store.ReadTx, m *matching, matcher *ledger.Matcher) error {
	from, err := calendar.Add(m.ground.today, -rememberedDays)
	if err != nil {
		return err
	}
	lines, err := tx.ReconciledLines(m.account.ID, from)
	for i := range lines {
		matcher.Remember(&lines[i].Line)
	}
	return err
}

// duesToMatch are the payments of jobs that are open, and the entries that no
// line shows yet.
func (s *Server) duesToMatch(tx store.ReadTx, m *matching, told *progress) ([]ledger.Due, error) {
	open, err := s.openDues(tx, told)
	if err != nil {
		return nil, err
	}
	accounts, err := tx.PayerAccounts()
	if err != nil {
		return nil, err
	}
	names := map[uuid.UUID][]string{}
	nameOf := func(id uuid.UUID) ([]string, error) {
		if id == uuid.Nil || names[id] != nil {
			return names[id], nil
		}
		who, err := tx.Customer(id)
		if err == nil && who.Name != "" {
			names[id] = []string{who.Name}
		}
		if errors.Is(err, store.ErrNotFound) {
			err = nil
		}
		return names[id], err
	}
	var list []ledger.Due
	for i := range open {
		d := &open[i]
		name, err := nameOf(d.job.Customer)
		if err != nil {
			return nil, err
		}
		m.dues[d.id()] = d
		references := d.job.references()
		list = append(list, ledger.Due{ID: d.id(), Job: d.job.ID.String(), Amount: d.Open, On: d.On, Reference: references[0], Also: references[1:], Names: name, Accounts: accounts[d.job.Customer]})
	}
	for i := range m.waiting {
		w := &m.waiting[i]
		party := askedID(w.Party)
		name, err := nameOf(party)
		if err != nil {
			return nil, err
		}
		id := entryDue + strconv.FormatInt(w.Number, 10)
		m.readings[id] = w.Amount.Minor()
		references, err := referencesOf(tx, w)
		if err != nil {
			return nil, err
		}
		list = append(list, ledger.Due{ID: id, Amount: w.Amount, On: w.Day, Also: references, Entered: true, Names: name, Accounts: accounts[party]})
	}
	return list, nil
}

// referencesOf are the references of the jobs that a receipt is placed on, where
// an entry is a receipt.
func referencesOf(tx store.ReadTx, w *store.MovedEntry) ([]string, error) {
	if w.Kind != ledger.Received || w.Document.Noun != "receipt" {
		return nil, nil
	}
	r, err := tx.Receipt(askedID(w.Document.ID))
	if err != nil {
		return nil, err
	}
	var list []string
	for _, p := range r.Content.Placements {
		if p.Back != nil {
			continue
		}
		entry, err := tx.JobEntry(askedID(p.Job))
		if err != nil {
			return nil, err
		}
		m := moneyJob{JobEntry: entry}
		if entry.Quote != uuid.Nil {
			head, err := tx.Quote(entry.Quote)
			if err != nil {
				return nil, err
			}
			m.quote = head.Number
		}
		list = append(list, m.references()...)
	}
	return list, nil
}

// possible says whether a proposal can be confirmed as it stands: entries are
// shown whole, by themselves, and leave nothing.
func (m *matching) possible(p *ledger.Proposal) bool {
	entries := 0
	for _, part := range p.Parts {
		if whole, ok := m.readings[part.Due]; ok {
			entries++
			if part.Amount.Minor() != whole {
				return false
			}
		}
	}
	return entries == 0 || entries == len(p.Parts) && p.Left.IsZero()
}

// payout is a line as the payout of card takings.
func (m *matching) payout(l *store.StatementLine) []ledger.Proposal {
	n, taken, fee, ok := ledger.PayoutOf(m.takings, l.Amount)
	if !ok {
		return nil
	}
	m.payouts[l.ID] = taken
	says := fmt.Sprintf("It may pay out what was taken by card %d times, %s together; the fee is %s.", n, taken, fee)
	if taken.Sign() < 0 {
		says = fmt.Sprintf("It may be what was charged back beyond what was taken by card, %s; the fee is %s.", taken.Neg(), fee)
	}
	return []ledger.Proposal{{Line: l.ID.String(), Parts: []ledger.Part{}, Left: money.Zero(l.Amount.Currency()), Kind: ledger.ByPayout, Score: 50, Says: says}}
}

// cardTakings are what was taken by card and is not paid out yet, the oldest
// first; what was charged back since is off the oldest. Where that is more than
// was taken, it is the one.
func cardTakings(tx store.ReadTx, c money.Currency) ([]money.Amount, error) {
	book, err := tx.BookOf()
	if err != nil {
		return nil, err
	}
	if owed := book.Balance(ledger.Card, c); owed.Sign() < 0 {
		return []money.Amount{owed}, nil
	}
	entries, err := tx.StandingEntries(ledger.Card, c)
	return mapped(entries, func(e store.MovedEntry) money.Amount { return e.Amount }), err
}

func (m *matching) contractProposal(p ledger.Proposal) openapi.MatchProposal {
	out := openapi.MatchProposal{Kind: openapi.MatchKind(p.Kind), Score: whole(p.Score), Certain: p.Certain, Says: p.Says, Left: contractAmount(p.Left), Parts: []openapi.ProposedPart{}, Entries: []int64{}}
	for _, pt := range p.Parts {
		if number, ok := strings.CutPrefix(pt.Due, entryDue); ok {
			if n, err := strconv.ParseInt(number, 10, 64); err == nil {
				out.Entries = append(out.Entries, n)
			}
			continue
		}
		d := m.dues[pt.Due]
		out.Parts = append(out.Parts, openapi.ProposedPart{Job: pt.Job, Number: whole(int(d.job.Number)), Payment: d.Code, Amount: contractAmount(pt.Amount)})
	}
	if taken, ok := m.payouts[askedID(p.Line)]; ok && p.Kind == ledger.ByPayout {
		out.CardTaken = contractAmount(taken)
	}
	return out
}
