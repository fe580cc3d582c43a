package api

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/invoice"
	"wainscot/pricing/job"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/settlement"
)

// settlementOf works out what of a job's deposits would be kept, and who paid
// them.
func settlementOf(tx store.ReadTx, m *moneyJob, book *pricebook.Compiled, day string, leftOut []int) (settlement.Settlement, []settlement.Payer, error) {
	kept, err := tx.OrdersSince(m.AgreedOn)
	if err != nil {
		return settlement.Settlement{}, nil, err
	}
	orders := make([]settlement.Order, len(kept))
	for i := range kept {
		content, err := kept[i].Content()
		if err != nil {
			return settlement.Settlement{}, nil, err
		}
		orders[i] = settlement.Order{ID: kept[i].ID.String(), Order: content}
	}
	costs, err := settlement.Costs(m.ID.String(), m.content, orders, book, day)
	if err != nil {
		return settlement.Settlement{}, nil, err
	}
	payers, err := payersOf(tx, m)
	if err != nil {
		return settlement.Settlement{}, nil, err
	}
	s, faults, err := settlement.Propose(m.held(), m.book.DepositVAT(m.ID.String(), m.currency), costs, leftOut, payers)
	if len(faults) > 0 {
		return s, nil, faults
	}
	return s, payers, err
}

// payersOf are those whose money is placed on a job, in the order in which they
// paid; where nobody knows who did it counts as the customer's.
func payersOf(tx store.ReadTx, m *moneyJob) ([]settlement.Payer, error) {
	receipts, err := tx.ReceiptsOn(m.ID)
	if err != nil {
		return nil, err
	}
	var list []settlement.Payer
	for i := range m.takenOn { // who paid before is not known here
		if list, err = paidBy(list, m.customer(), m.takenOn[i].Gross()); err != nil {
			return nil, err
		}
	}
	for _, r := range receipts {
		party := r.Content.Payer
		if party == "" {
			party = m.customer()
		}
		for _, p := range r.Content.Placements {
			if p.Job != m.ID.String() || p.Back != nil || r.Content.Lost != nil {
				continue
			}
			if list, err = paidBy(list, party, p.Amount); err != nil {
				return nil, err
			}
		}
	}
	return list, nil
}

// paidBy adds what somebody paid.
func paidBy(list []settlement.Payer, party string, amount money.Amount) ([]settlement.Payer, error) {
	at := slices.IndexFunc(list, func(p settlement.Payer) bool { return p.Party == party })
	if at < 0 {
		return append(list, settlement.Payer{Party: party, Paid: amount}), nil
	}
	var err error
	list[at].Paid, err = list[at].Paid.Add(amount)
	return list, err
}

// getSettlement tells what of a job's deposits would be kept, or what was
// decided.
func (s *Server) getSettlement(c *gin.Context) error {
	var leftOut []int
	for _, text := range c.QueryArray("left_out") {
		for part := range strings.SplitSeq(text, ",") {
			n, err := strconv.Atoi(part)
			if err != nil {
				return brokenField("query/left_out", "not_allowed", "It is not the number of a cost.", "Write it in digits.")
			}
			leftOut = append(leftOut, n)
		}
	}
	o, err := s.pricedOffer(c, "")
	if err != nil {
		return err
	}
	_, m, err := s.moneyOfPath(c)
	if err != nil {
		return err
	}
	var out openapi.Settlement
	err = s.readTx(c, func(tx store.ReadTx) error {
		if done, ok, err := tx.SettlementIfAny(m.ID); err != nil || ok {
			out = contractDecided(done)
			return err
		}
		found, payers, err := settlementOf(tx, m, o.book, o.day, leftOut)
		out = contractSettlement(m.ID, &found, found.Kept, found.Refunds, payers)
		return err
	})
	if err != nil {
		return refusedInBody(err)
	}
	return answer(c, http.StatusOK, out)
}

// decideSettlement keeps what of a cancelled job's deposits the owner decides,
// and gives back the rest.
func (s *Server) decideSettlement(c *gin.Context) error {
	asked, err := decode[openapi.NewSettlement](c)
	if err != nil {
		return err
	}
	o, err := s.pricedOffer(c, "")
	if err != nil {
		return err
	}
	g, m, err := s.moneyOfPath(c)
	if err != nil {
		return err
	}
	r := sentMoney{currency: m.currency}
	d := store.SettlementContent{Kept: r.amount("kept", asked.Kept), Refunds: []settlement.Payer{}, Entries: []int64{}, CreditNotes: []int64{}}
	for i := range asked.Refunds {
		d.Refunds = append(d.Refunds, settlement.Payer{Party: asked.Refunds[i].Customer, Paid: r.amount("refunds/"+strconv.Itoa(i)+"/amount", asked.Refunds[i].Amount)})
	}
	if err := r.refused(); err != nil {
		return err
	}
	leftOut := mapped(asked.LeftOut, func(n int32) int { return int(n) })
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if err := m.again(tx.ReadTx); err != nil {
			return reply{}, err
		}
		if err := mayBeSettled(tx.ReadTx, m); err != nil {
			return reply{}, moneyRefused(err)
		}
		proposed, payers, err := settlementOf(tx.ReadTx, m, o.book, o.day, leftOut)
		if err != nil {
			return reply{}, refusedInBody(err)
		}
		if faults := settlement.Check(m.held(), d.Kept, d.Refunds, payers); len(faults) > 0 {
			return reply{}, refusedInBody(faults)
		}
		d.Proposed = proposed
		if err := enterSettlement(tx, &g, m, &d, ledger.Account(asked.From)); err != nil {
			return reply{}, moneyRefused(err)
		}
		done, err := tx.AddSettlement(store.Settlement{Job: m.ID, DecidedOn: g.today, Content: d, Words: asked.Reason})
		if err != nil {
			return reply{}, err
		}
		return reply{status: http.StatusCreated, location: "/v1/jobs/" + m.ID.String() + "/settlement", body: contractDecided(done)}, nil
	})
}

// mayBeSettled: a job that is cancelled, holds deposits, and was not invoiced or
// settled before.
func mayBeSettled(tx store.ReadTx, m *moneyJob) error {
	fault := func(code, reason, remedy string) error {
		return document.Faults{{Code: code, At: "job", Reason: reason, Remedy: remedy}}
	}
	_, settled, err := tx.SettlementIfAny(m.ID)
	final, _ := m.final()
	switch {
	case err != nil:
		return err
	case settled:
		return fault("in_use", "What is kept of it was decided before.", "Read what was decided.")
	case m.State != job.Cancelled:
		return fault("nothing_due", "The job is "+string(m.State)+".", "Cancel it first; what is paid too much is given back as a refund.")
	case final != nil:
		return fault("invoiced", "The job is invoiced.", "Credit the invoice first.")
	case m.held().IsZero():
		return fault("nothing_due", "No deposits are held for the job.", "There is nothing to decide.")
	}
	return nil
}

// enterSettlement enters what goes back, with its credit notes, and what is
// kept, whose VAT stays due.
func enterSettlement(tx store.WriteTx, g *moneyGround, m *moneyJob, d *store.SettlementContent, from ledger.Account) error {
	b, err := tx.Book([]uuid.UUID{m.ID})
	if err != nil {
		return err
	}
	known := len(m.papers)
	for _, r := range d.Refunds {
		if err := refundDeposits(tx, g, b, m, r.Party, r.Paid, from, g.today, "The job was cancelled."); err != nil {
			return err
		}
		if err := m.look(tx.ReadTx); err != nil {
			return err
		}
		d.Entries = append(d.Entries, m.entries[len(m.entries)-1].Entry)
	}
	for _, p := range m.papers[min(known, len(m.papers)):] {
		if p.Kind == invoice.CreditNote {
			d.CreditNotes = append(d.CreditNotes, p.Number)
		}
	}
	d.KeptVAT = money.Zero(m.currency)
	if d.Kept.IsZero() {
		return nil
	}
	lines, faults, err := b.GiveBack(m.ID.String(), m.customer(), money.Zero(m.currency), d.Kept, from)
	if err != nil {
		return err
	}
	if len(faults) > 0 {
		return faults
	}
	for _, l := range lines {
		if l.Account == ledger.VATOnDeposits {
			if d.KeptVAT, err = d.KeptVAT.Sub(l.Amount); err != nil {
				return err
			}
		}
	}
	done, err := b.Enter(ledger.Entry{Day: g.today, Kind: ledger.Kept, Document: ledger.Document{Noun: "job", ID: m.ID.String()}, Lines: lines})
	d.Entries = append(d.Entries, done.Number)
	return err
}

func contractDecided(done store.Settlement) openapi.Settlement {
	c := &done.Content
	out := contractSettlement(done.Job, &c.Proposed, c.Kept, c.Refunds, c.Refunds)
	out.Decided, out.DecidedOn, out.Reason, out.KeptVat = true, done.DecidedOn, done.Words, contractAmount(c.KeptVAT)
	out.CreditNotes = mapped(c.CreditNotes, func(n int64) int32 { return whole(int(n)) })
	return out
}

func contractSettlement(id uuid.UUID, s *settlement.Settlement, kept money.Amount, refunds, payers []settlement.Payer) openapi.Settlement {
	payer := func(p settlement.Payer) openapi.SettlementPayer {
		return openapi.SettlementPayer{Customer: p.Party, Amount: contractAmount(p.Paid)}
	}
	return openapi.Settlement{
		Job: id.String(), Held: contractAmount(s.Held), Cost: contractAmount(s.Cost), Kept: contractAmount(kept), KeptVat: contractAmount(s.KeptVAT),
		Short: contractAmount(s.Short), Refunds: mapped(refunds, payer), Payers: mapped(payers, payer), Unknown: mapped(s.Unknown, func(n int) int32 { return whole(n) }),
		Costs: mapped(s.Costs, func(c settlement.Cost) openapi.SettlementCost {
			out := openapi.SettlementCost{Number: whole(c.Number), What: openapi.SettlementWhat(c.What), Code: c.Code, Order: c.Order, Line: whole(c.Line), Quantity: plain(c.Quantity),
				Amount: contractAmount(c.Amount), LeftOut: c.LeftOut}
			if c.UnitCost != nil {
				out.UnitCost = contractUnitPrice(*c.UnitCost)
			}
			return out
		}),
	}
}
