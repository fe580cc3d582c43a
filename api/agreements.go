package api

import (
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/pricing"
	"wainscot/pricing/money"
)

// agreedMoney is what of an agreement the list of dues needs. An accepted
// revision, an accepted variation and an agreed price never change, so neither
// does this.
type agreedMoney struct {
	quote    int64 // its number
	currency money.Currency
	payments []pricing.Payment
	total    money.Amount
}

// agreedKey names an agreement: a job, and the last variation that was accepted,
// or the last price that was agreed without a quote.
type agreedKey struct {
	workshop, job    uuid.UUID
	variation, price int64
}

// agreementsHeld of at most so many jobs, some 500 bytes each: to read one anew
// means to unpack and decode the whole quote.
const agreementsHeld = 20_000

// dueJob reads a job for the list of dues.
func (s *Server) dueJob(tx store.ReadTx, kept store.Job) (*moneyJob, error) {
	m, err := beginMoneyJob(tx, kept)
	if err != nil {
		return nil, err
	}
	if m.Quote == uuid.Nil && m.content.AgreedPrice == 0 {
		m.total = money.Zero(m.currency)
		return m, nil
	}
	key := agreedKey{tx.Principal().Workshop, m.ID, m.content.Variation, m.content.AgreedPrice}
	found, ok := s.agreements.get(key)
	if ok {
		m.agreed(found)
		return m, nil
	}
	if m, err = readKeptJob(tx, kept); err != nil {
		return nil, err
	}
	if found, err = m.readOf(); err != nil {
		return nil, err
	}
	m.agreed(found)
	s.agreements.put(key, found)
	return m, nil
}

// readOf is what the list of dues needs of what was read.
func (m *moneyJob) readOf() (agreedMoney, error) {
	if m.price != nil {
		p := &m.price.Priced
		return agreedMoney{0, p.Currency, p.Payments, p.Totals.Gross}, nil
	}
	now, err := m.text.now()
	if err != nil {
		return agreedMoney{}, err
	}
	return agreedMoney{m.quote, now.Van.Priced.Currency, now.Schedule, now.Van.Priced.Totals.Gross}, nil
}
