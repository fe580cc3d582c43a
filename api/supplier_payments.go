package api

import (
	"errors"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/shopspring/decimal"

	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
)

// listSupplierPayments gives a page of them, the newest first.
func (s *Server) listSupplierPayments(c *gin.Context) error {
	list, next, err := newestFirst(s, c, "supplier payments", store.ReadTx.SupplierPayments)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.SupplierPayments{Payments: mapped(list, contractSupplierPayment), Next: next})
}

// getSupplierPayment gives one.
func (s *Server) getSupplierPayment(c *gin.Context) error {
	found, err := theOne(s, c, "payment", store.ReadTx.SupplierPayment)
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, found.Version, contractSupplierPayment(found))
}

// addSupplierPayment enters what went to a supplier.
func (s *Server) addSupplierPayment(c *gin.Context) error {
	asked, err := decode[openapi.NewSupplierPayment](c)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		w, err := tx.Workshop()
		if err != nil {
			return reply{}, err
		}
		r := sentMoney{currency: money.Currency(w.Currency)}
		p := store.SupplierPayment{Supplier: asked.SupplierCode, From: ledger.Account(asked.From), Amount: r.amount("amount", asked.Amount)}
		for n := range asked.Invoices {
			p.Parts = append(p.Parts, store.PaymentPart{Invoice: askedID(asked.Invoices[n].Id), Amount: r.amount("invoices/"+strconv.Itoa(n)+"/amount", asked.Invoices[n].Amount)})
		}
		if err := r.refused(); err != nil {
			return reply{}, err
		}
		if p.Day, err = dayDone(tx.ReadTx, asked.On); err != nil {
			return reply{}, err
		}
		book, err := tx.Book(nil)
		if err != nil {
			return reply{}, err
		}
		made, err := tx.PaySupplier(book, p)
		switch {
		case errors.Is(err, store.ErrNotFound):
			return reply{}, unknownReference("/invoices", "supplier's invoice")
		case err != nil:
			return reply{}, refusedInBody(err)
		}
		return reply{status: http.StatusCreated, location: "/v1/supplier-payments/" + made.ID.String(), version: made.Version, body: contractSupplierPayment(made)}, nil
	})
}

// dayDone is the day on which something was done: today where none is said, and
// none that is to come.
func dayDone(tx store.ReadTx, on string) (string, error) {
	today, err := dayOf(tx)
	switch {
	case err != nil || on == "":
		return today, err
	case !calendar.Valid(on):
		return "", supplyRefused(document.Faults{{Code: "day", At: "on", Reason: "It is not a day.", Remedy: "Write it as year, month and day: 2027-01-11."}})
	case on > today:
		return "", supplyRefused(document.Faults{{Code: "to_come", At: "on", Reason: "That day is still to come.", Remedy: "Enter it when it is done."}})
	}
	return on, nil
}

// takeBackSupplierPayment reverses a payment.
func (s *Server) takeBackSupplierPayment(c *gin.Context) error {
	id, version, err := pathVersion(c, "payment")
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		was, err := tx.SupplierPayment(id)
		switch {
		case err != nil:
			return reply{}, notFoundIs(err, "payment")
		case was.Version != version:
			return reply{}, store.ErrStale
		}
		on, err := dayOf(tx.ReadTx)
		if err != nil {
			return reply{}, err
		}
		book, err := tx.Book(nil, was.Entry)
		if err != nil {
			return reply{}, err
		}
		now, err := tx.TakeBackSupplierPayment(book, was, on)
		if err != nil {
			return reply{}, refusedBy(err)
		}
		return reply{status: http.StatusOK, version: now.Version, body: contractSupplierPayment(now)}, nil
	})
}

func contractSupplierPayment(p store.SupplierPayment) openapi.SupplierPayment {
	return openapi.SupplierPayment{
		Id: p.ID.String(), Number: whole(int(p.Number)), Version: p.Version, CreatedAt: p.CreatedAt, On: p.Day, SupplierCode: p.Supplier, From: openapi.MoneyAccount(p.From),
		Amount: contractAmount(p.Amount), Entry: p.Entry, TakenBack: p.BackEntry != 0,
		Invoices: mapped(p.Parts, func(part store.PaymentPart) openapi.SupplierPaymentPart {
			return openapi.SupplierPaymentPart{Id: part.Invoice.String(), Amount: contractAmount(part.Amount)}
		}),
	}
}

// getPurchases tells what is set for purchases. The version shown is one more
// than that kept, because what was never set can be changed too.
func (s *Server) getPurchases(c *gin.Context) error {
	var found store.Purchases
	err := s.readTx(c, func(tx store.ReadTx) error {
		w, err := tx.Workshop()
		if err == nil {
			found, err = tx.Purchases(money.Currency(w.Currency))
		}
		return err
	})
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, found.Version+1, contractPurchases(found))
}

// changePurchases sets it.
func (s *Server) changePurchases(c *gin.Context) error {
	asked, err := decode[openapi.PurchasesContent](c)
	if err != nil {
		return err
	}
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		w, err := tx.Workshop()
		if err != nil {
			return reply{}, err
		}
		r := sentMoney{currency: money.Currency(w.Currency)}
		p := store.Purchases{}
		p.Tolerance.Percent = r.decimal("tolerance_percent", asked.TolerancePercent)
		if percent := p.Tolerance.Percent; percent.Sign() < 0 || percent.Exponent() < -6 || percent.GreaterThan(decimal.New(100, 0)) {
			r.fault("tolerance_percent", "out_of_range", "It is no percentage to let pass.", "Write 0 to 100, with at most six decimals.")
		}
		if asked.ToleranceMost.Amount != "" {
			most := r.amount("tolerance_most", asked.ToleranceMost)
			if most.Sign() < 0 {
				r.fault("tolerance_most", "out_of_range", "It is below nothing.", "Write nothing or more.")
			}
			p.Tolerance.Most = &most
		}
		if err := r.refused(); err != nil {
			return reply{}, err
		}
		if asked.CompleteThrough != "" {
			if p.CompleteThrough, err = dayDone(tx.ReadTx, asked.CompleteThrough); err != nil {
				return reply{}, err
			}
		}
		now, err := tx.SetPurchases(version-1, p)
		if err != nil {
			return reply{}, err
		}
		return reply{status: http.StatusOK, version: now.Version + 1, body: contractPurchases(now)}, nil
	})
}

func contractPurchases(p store.Purchases) openapi.Purchases {
	out := openapi.Purchases{Version: p.Version + 1, CompleteThrough: p.CompleteThrough, TolerancePercent: plain(p.Tolerance.Percent), ToleranceMost: amountIfAny(p.Tolerance.Most)}
	if p.Version > 0 {
		out.ChangedAt = p.ChangedAt
	}
	return out
}
