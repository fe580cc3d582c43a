package api

import (
	"bytes"
	"cmp"
	"fmt"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"wainscot/api/paper"
	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/openapi"
	"wainscot/pricing/job"
	"wainscot/pricing/money"
)

// openDue is a payment of a job that is still open.
type openDue struct {
	job *moneyJob
	job.Due
}

// id names a due: its job's and the code of the payment.
func (d *openDue) id() string { return d.job.ID.String() + "/" + d.Code }

// openDues are the payments of all jobs that are still open, the longest due
// first; those of no known day come last.
func (s *Server) openDues(tx store.ReadTx, told *progress) ([]openDue, error) {
	jobs, err := tx.UnpaidJobs()
	if err != nil {
		return nil, err
	}
	book, err := tx.BookOfAll()
	if err != nil {
		return nil, err
	}
	var list []openDue
	for i, kept := range jobs {
		if i%tellEvery == 0 {
			told.tell(openapi.ProgressStepJobsRead, i, len(jobs))
		}
		m, err := s.dueJob(tx, kept)
		if err != nil {
			return nil, err
		}
		m.book = book
		if m.papers, m.entries, err = tx.InvoicesOf(m.ID); err != nil {
			return nil, err
		}
		dues, err := m.dues()
		if err != nil {
			return nil, err
		}
		for _, d := range dues {
			if d.Open.Sign() > 0 {
				list = append(list, openDue{m, d})
			}
		}
	}
	slices.SortStableFunc(list, func(a, b openDue) int {
		if a.On == "" || b.On == "" {
			return cmp.Compare(b.On, a.On)
		}
		return cmp.Compare(a.On, b.On)
	})
	return list, nil
}

// listDues gives what is open.
func (s *Server) listDues(c *gin.Context) error {
	out := openapi.Dues{Dues: []openapi.Due{}}
	until := c.Query("until")
	err := s.readTx(c, func(tx store.ReadTx) error {
		g, err := readMoneyGround(tx)
		if err != nil {
			return err
		}
		out.On = g.today
		list, err := s.openDues(tx, nil)
		if err != nil {
			return err
		}
		open, over := money.Zero(g.currency), money.Zero(g.currency)
		for i := range list {
			d := &list[i]
			if until != "" && (d.On == "" || d.On > until) {
				continue
			}
			one := contractDue(d)
			if d.State == job.Overdue {
				if over, err = over.Add(d.Open); err != nil {
					return err
				}
				over, err := calendar.Days(d.On, g.today)
				if err != nil {
					return err
				}
				one.DaysOver = whole(over)
			}
			if open, err = open.Add(d.Open); err != nil {
				return err
			}
			out.Dues = append(out.Dues, one)
		}
		out.Open, out.Overdue = contractAmount(open), contractAmount(over)
		return nil
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, out)
}

func contractDue(d *openDue) openapi.Due {
	return openapi.Due{Job: d.job.ID.String(), Number: whole(int(d.job.Number)), Customer: contractID(d.job.Customer), Reference: d.job.reference(), Payment: contractJobDue(d.Due)}
}

func contractJobDue(d job.Due) openapi.JobDue {
	return openapi.JobDue{
		Code: d.Code, Name: d.Name, Amount: contractAmount(d.Amount), Paid: contractAmount(d.Paid), Open: contractAmount(d.Open),
		When: openapi.JobDueWhen(d.When), Days: whole(d.Days), On: d.On, State: openapi.DueState(d.State),
	}
}

// getJobAccount gives a job's money.
func (s *Server) getJobAccount(c *gin.Context) error {
	_, m, err := s.moneyOfPath(c)
	if err != nil {
		return err
	}
	var out openapi.JobAccount
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		out, err = contractJobAccount(tx, m)
		return err
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, out)
}

// accountReply answers with a job's money as it is after the transaction.
func (s *Server) accountReply(tx store.WriteTx, m *moneyJob) (reply, error) {
	if err := m.look(tx.ReadTx); err != nil {
		return reply{}, err
	}
	body, err := contractJobAccount(tx.ReadTx, m)
	return reply{status: http.StatusOK, body: body}, err
}

func contractJobAccount(tx store.ReadTx, m *moneyJob) (openapi.JobAccount, error) {
	dues, err := m.dues()
	if err != nil {
		return openapi.JobAccount{}, err
	}
	receipts, err := tx.ReceiptsOn(m.ID)
	if err != nil {
		return openapi.JobAccount{}, err
	}
	books, err := tx.Books()
	if err != nil {
		return openapi.JobAccount{}, err
	}
	final, _ := m.final()
	return openapi.JobAccount{
		Job: m.ID.String(), Number: whole(int(m.Number)), State: openapi.JobState(m.State), Customer: contractID(m.Customer), Reference: m.reference(),
		Total: contractAmount(m.total), Paid: contractAmount(m.paid()), Open: contractAmount(m.open()), DepositsHeld: contractAmount(m.held()),
		VatOnDeposits: mapped(m.book.DepositVAT(m.ID.String(), m.currency), contractVATSum), Invoiced: final != nil,
		WaitsFor: waitsFor(&books, dues), Payments: mapped(dues, contractJobDue), Receipts: placedOnJob(receipts, m.ID),
		TakenOn: mapped(m.takenOn, contractDepositTakenOn), Invoices: mapped(m.entries, contractInvoiceSummary),
	}, nil
}

func contractDepositTakenOn(d store.DepositTakenOn) openapi.DepositTakenOn {
	return openapi.DepositTakenOn{Number: whole(int(d.Number)), Day: d.Content.TaxPoint, Amount: contractAmount(d.Gross()), Vat: mapped(d.Content.Becomes, contractVATSum),
		Entry: d.Entry, Words: d.Words}
}

// waitsFor says what has to be paid before a slot is firm; "" for nothing.
func waitsFor(b *store.Books, dues []job.Due) string {
	if !b.SlotWaitsForDeposit {
		return ""
	}
	for _, d := range dues {
		if d.AtAcceptance() && d.Open.Sign() > 0 {
			return fmt.Sprintf("%s: %s of %s is still to be paid.", d.Name, d.Open, d.Amount)
		}
	}
	return ""
}

// getPaymentRequest writes a letter that asks for a payment.
func (s *Server) getPaymentRequest(c *gin.Context) error {
	g, m, err := s.moneyOfPath(c)
	if err != nil {
		return err
	}
	dues, err := m.dues()
	if err != nil {
		return err
	}
	code := c.Query("payment")
	asked := slices.DeleteFunc(slices.Clone(dues), func(d job.Due) bool {
		return d.Open.Sign() <= 0 || code != "" && d.Code != code || code == "" && d.State == job.DueToCome
	})
	p := paper.PaymentRequest{Letterhead: g.settings.Letterhead, Day: g.today, Job: m.Number, Quote: m.quote, Reference: m.reference(), Dues: asked}
	err = s.readTx(c, func(tx store.ReadTx) error {
		plates, err := tx.JobPlates([]store.JobEntry{m.JobEntry})
		if err != nil {
			return err
		}
		p.Registration = plates[m.ID]
		p.To, err = personOf(tx, m.Customer)
		return err
	})
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := paper.PaymentRequestPDF(&b, p); err != nil {
		return fmt.Errorf("request of job %d on paper: %w", m.Number, err)
	}
	return sendFile(c, kindPDF, fmt.Sprintf("request-job-%d.pdf", m.Number), b.Bytes())
}
