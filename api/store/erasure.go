package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/quote"
)

// A customer is erased by emptying rows, never by removing them: ids, numbers,
// days and sums stay, so that quotes and journal still verify. What the rows
// held is then still in pages the database does not use any more, and in its
// write-ahead log; Sweep takes it out of there.

// InTheWay is something that stands in the way of erasing a customer.
type InTheWay struct {
	Noun string // customer, quote, enquiry, reservation, receipt
	// ID and Number of it; Number is 0 where it has none.
	ID     uuid.UUID
	Number int64
	State  string
	// Until is the last day (YYYY-MM-DD) it stands in the way; "" for what
	// somebody has to bring to an end.
	Until string
}

// ErasureInTheWay lists what stands in the way of erasing a customer on a day:
// that they are to be kept, business that has not come to an end, and money of
// theirs that is neither placed nor given back. An
// accepted quote is business for so many years after its acceptance; an offer
// until its last day; a draft, which nobody can decline, for so many days after
// its last change as an offer would stand.
func (t ReadTx) ErasureInTheWay(id uuid.UUID, day string, s SettingsContent) ([]InTheWay, error) {
	c, err := of[customerRow](t).where("id = ?", id).one()
	if err != nil {
		return nil, fmt.Errorf("customer %s: %w", id, err)
	}
	var found []InTheWay
	if c.KeepUntil >= day {
		found = append(found, InTheWay{Noun: "customer", ID: id, Until: c.KeepUntil})
	}
	quotes, err := of[quoteRow](t).where("(customer = ? OR end_customer = ?) AND state <> ?", id, id, string(Declined)).order("number").all()
	if err != nil {
		return nil, fmt.Errorf("quotes of customer %s: %w", id, err)
	}
	for _, q := range quotes {
		until, err := t.quoteInTheWay(&q, s)
		if err != nil {
			return nil, err
		}
		if until >= day {
			found = append(found, InTheWay{Noun: "quote", ID: q.ID, Number: q.Number, State: q.State, Until: until})
		}
	}
	enquiries, err := of[enquiryRow](t).where("customer = ? AND state = ?", id, string(EnquiryOpen)).order("created_us, id").all()
	if err != nil {
		return nil, fmt.Errorf("enquiries of customer %s: %w", id, err)
	}
	for _, e := range enquiries {
		found = append(found, InTheWay{Noun: "enquiry", ID: e.ID, State: e.State})
	}
	held, err := of[reservationRow](t).where("customer = ? AND state = ?", id, string(quote.Held)).order("number").all()
	if err != nil {
		return nil, fmt.Errorf("reservations of customer %s: %w", id, err)
	}
	for _, r := range held {
		found = append(found, InTheWay{Noun: "reservation", ID: r.ID, Number: r.Number, State: r.State})
	}
	left, err := of[receiptEntryRow](t).where("payer = ? AND left_minor > 0", id).order("number").all()
	if err != nil {
		return nil, fmt.Errorf("receipts of customer %s: %w", id, err)
	}
	for _, r := range left {
		found = append(found, InTheWay{Noun: "receipt", ID: r.ID, Number: r.Number})
	}
	return found, nil
}

// quoteInTheWay is the last day a quote stands in the way.
func (t ReadTx) quoteInTheWay(q *quoteRow, s SettingsContent) (until string, err error) {
	switch QuoteState(q.State) {
	case Draft:
		until = moment(q.ChangedUS).AddDate(0, 0, s.ValidDays).Format(time.DateOnly)
		// What was offered before the draft may stand longer.
		offered, err := of[revisionEntryRow](t).where("quote = ? AND state = ?", q.ID, string(Issued)).all()
		if err != nil {
			return "", fmt.Errorf("what is offered of quote %d: %w", q.Number, err)
		}
		for _, r := range offered {
			until = max(until, r.ValidUntil)
		}
		return until, nil
	case Accepted:
		a, err := of[acceptanceRow](t).where("quote = ?", q.ID).one()
		if err != nil {
			return "", fmt.Errorf("acceptance of quote %d: %w", q.Number, err)
		}
		on, err := time.Parse(time.DateOnly, a.AcceptedOn)
		if err != nil {
			return "", fmt.Errorf("acceptance of quote %d: %w", q.Number, err)
		}
		return on.AddDate(s.KeepYears, 0, 0).Format(time.DateOnly), nil
	}
	return q.ValidUntil, nil
}

// Erased names the things that were emptied.
type Erased struct {
	Customer                              Customer
	Vans, Enquiries, Reservations, Quotes []uuid.UUID
	Jobs, Receipts, Lines                 []uuid.UUID
}

// EraseCustomer empties a customer and everything personal in their vans,
// enquiries, reservations, quotes, acceptances and jobs. version is the one the
// erasure was decided on, else it is ErrStale; one who has been erased already
// is ErrErased. Whether anything stands in the way is for the caller to ask in
// the same transaction. sources are the enquiry sources the workshop offers;
// another was written by hand and may name somebody.
func (t WriteTx) EraseCustomer(id uuid.UUID, version int64, sources []string) (Erased, error) {
	done, err := t.eraseCustomer(id, version, sources)
	if err != nil {
		return Erased{}, fmt.Errorf("erasing customer %s: %w", id, err)
	}
	return done, nil
}

func (t WriteTx) eraseCustomer(id uuid.UUID, version int64, sources []string) (done Erased, err error) {
	row, err := of[customerRow](t.ReadTx).where("id = ?", id).one()
	switch {
	case err != nil:
		return done, err
	case row.ErasedUS != nil:
		return done, ErrErased
	}
	now := t.Now().UnixMicro()
	empty := customerRow{
		WorkshopID: row.WorkshopID, ID: row.ID, Version: version, CreatedUS: row.CreatedUS, ChangedUS: now, ErasedUS: &now,
		Kind: row.Kind, KeepUntil: row.KeepUntil,
	}
	if done.Customer, err = t.writeCustomer(erased, empty); err != nil {
		return done, err
	}
	vans, err := of[vanRow](t.ReadTx).where("customer = ?", id).all()
	for _, v := range vans {
		v.Registration, v.Plate, v.VIN, v.Words, v.Notes, v.ChangedUS = "", "", "", "", "", now
		if err == nil {
			_, err = t.writeVan(emptied, v)
		}
		done.Vans = append(done.Vans, v.ID)
	}
	if err != nil {
		return done, err
	}
	enquiries, err := of[enquiryRow](t.ReadTx).where("customer = ?", id).all()
	for _, e := range enquiries {
		e.Wants, e.Notes, e.ClosedBecause, e.ChangedUS = "", "", "", now
		if !slices.Contains(sources, e.Source) {
			e.Source = ""
		}
		if err == nil {
			_, err = t.writeEnquiry(emptied, e)
		}
		done.Enquiries = append(done.Enquiries, e.ID)
	}
	if err != nil {
		return done, err
	}
	reservations, err := of[reservationRow](t.ReadTx).where("customer = ?", id).all()
	for _, r := range reservations {
		r.Notes, r.ChangedUS = "", now
		if err == nil {
			_, err = t.writeReservation(emptied, r)
		}
		done.Reservations = append(done.Reservations, r.ID)
	}
	if err != nil {
		return done, err
	}
	if done.Quotes, err = t.EmptyQuotesOf(id); err != nil {
		return done, err
	}
	if done.Jobs, err = t.emptyJobsOf(id, done.Quotes); err != nil {
		return done, err
	}
	if done.Lines, err = t.emptyLinesOf(id, done.Jobs); err != nil {
		return done, err
	}
	if done.Receipts, err = t.emptyReceiptsOf(id, done.Jobs); err != nil {
		return done, err
	}
	return done, t.emptyVariationsOf(done.Jobs)
}

// Sweep takes what has been emptied or removed out of the database's files as
// well: pages that are not in use any more and the write-ahead log. It copies
// the whole database, and writes wait for it. On PostgreSQL it does nothing:
// there the server's own vacuuming does it, in its own time.
//
// Reason for going round the scope: a file has no workshops.
func (s *Store) Sweep(ctx context.Context) error {
	e, ok := s.writer.engine.(interface {
		sweep(context.Context) error
	})
	if !ok {
		return nil
	}
	if err := e.sweep(ctx); err != nil {
		return fmt.Errorf("sweeping the database: %w", err)
	}
	return nil
}

// sweep rewrites the file from what is in use, and empties the log.
func (f sqliteFile) sweep(ctx context.Context) error {
	l, err := f.connect(ctx, true)
	if err != nil {
		return err
	}
	if err = l.exec(ctx, "VACUUM"); err == nil {
		// A reader may be at the log for as long as a query takes; each try
		// waits as long as the connection waits for a lock.
		for range 3 {
			if err = f.settle(ctx, l); err == nil {
				break
			}
		}
	}
	return errors.Join(err, l.close())
}
