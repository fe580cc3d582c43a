package api

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"wainscot/api/paper"
	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/purchase"
)

// creditors is what is open with suppliers on a day.
type creditors struct {
	on       string
	currency money.Currency
	open     []store.SupplierInvoice // by supplier and number
	waited   map[string]money.Amount // credits waited for, by invoice
	books    money.Amount
}

func readCreditors(tx store.ReadTx) (k creditors, err error) {
	w, err := tx.Workshop()
	if err != nil {
		return k, err
	}
	k.currency, k.waited = money.Currency(w.Currency), map[string]money.Amount{}
	if k.on, err = today(tx.Now(), w.TimeZone); err != nil {
		return k, err
	}
	if k.open, err = tx.UnpaidSupplierInvoices(); err != nil {
		return k, err
	}
	for i := range k.open {
		if err := k.waitedFor(tx, &k.open[i]); err != nil {
			return k, err
		}
	}
	book, err := tx.BookOf()
	if err != nil {
		return k, err
	}
	k.books = book.Balance(ledger.Creditors, k.currency).Neg()
	return k, nil
}

// waitedFor works out what credit is still to come of an invoice that was
// accepted whole.
func (k *creditors) waitedFor(tx store.ReadTx, i *store.SupplierInvoice) error {
	due := money.Zero(k.currency)
	if m := i.Content.Match; m != nil && i.State == purchase.Accepted && len(m.Credit) > 0 {
		sum, err := purchase.Sum(m.Credit, k.currency)
		if err != nil {
			return err
		}
		came, err := tx.CreditsOf(i.ID)
		if err != nil {
			return err
		}
		for _, note := range came {
			if sum, err = sum.Sub(note.Gross); err != nil {
				return err
			}
		}
		if sum.Sign() > 0 {
			due = sum
		}
	}
	k.waited[i.ID.String()] = due
	return nil
}

func (s *Server) creditorsNow(c *gin.Context) (k creditors, err error) {
	err = s.readTx(c, func(tx store.ReadTx) (err error) { k, err = readCreditors(tx); return err })
	return k, err
}

// getCreditors tells what is owed to suppliers.
func (s *Server) getCreditors(c *gin.Context) error {
	k, err := s.creditorsNow(c)
	if err != nil {
		return err
	}
	out := openapi.Creditors{On: k.on, Suppliers: []openapi.Creditor{}, InTheBooks: contractAmount(k.books)}
	all, left, late := money.Zero(k.currency), money.Zero(k.currency), money.Zero(k.currency)
	for n := range k.open {
		i := &k.open[n]
		if last := len(out.Suppliers) - 1; last < 0 || out.Suppliers[last].SupplierCode != i.Supplier {
			out.Suppliers = append(out.Suppliers, openapi.Creditor{SupplierCode: i.Supplier, SupplierName: i.Name})
			left, late = money.Zero(k.currency), money.Zero(k.currency)
		}
		at := &out.Suppliers[len(out.Suppliers)-1]
		overdue := i.DueOn < k.on
		if all, err = all.Add(i.Left()); err == nil {
			left, err = left.Add(i.Left())
		}
		if overdue && err == nil {
			late, err = late.Add(i.Left())
		}
		if err != nil {
			return err
		}
		at.Left, at.Overdue = contractAmount(left), contractAmount(late)
		at.Invoices = append(at.Invoices, openapi.CreditorInvoice{
			Id: i.ID.String(), Number: whole(int(i.Number)), TheirNumber: i.Content.Number, Kind: openapi.SupplierInvoiceKind(i.Kind), TaxPoint: i.TaxPoint, DueOn: i.DueOn,
			Overdue: overdue, Owed: contractAmount(i.Owed), Paid: contractAmount(i.Paid), Left: contractAmount(i.Left()), Disputed: contractAmount(i.Disputed),
			CreditDue: contractAmount(k.waited[i.ID.String()]),
		})
	}
	out.Left = contractAmount(all)
	return answer(c, http.StatusOK, out)
}

func (s *Server) getCreditorsCSV(c *gin.Context) error {
	return s.creditorsOnPaper(c, kindCSV, ".csv", paper.TableCSV)
}

func (s *Server) getCreditorsXLSX(c *gin.Context) error {
	return s.creditorsOnPaper(c, kindXLSX, ".xlsx", paper.TableXLSX)
}

func (s *Server) creditorsOnPaper(c *gin.Context, kind, ending string, write func(io.Writer, paper.Table) error) error {
	k, err := s.creditorsNow(c)
	if err != nil {
		return err
	}
	t := paper.Table{
		Name: "Creditors", Title: "Owed to suppliers", Subject: "In the books " + k.books.String(), Day: k.on,
		Columns: []paper.Column{
			{Name: "supplier_code", Head: "Code", Width: 16}, {Name: "supplier", Head: "Supplier", Width: 28}, {Name: "number", Head: "Number", Width: 8, Number: true},
			{Name: "their_number", Head: "Their number", Width: 18}, {Name: "kind", Head: "Kind", Width: 12}, {Name: "tax_point", Head: "Tax point", Width: 12},
			{Name: "due_on", Head: "Due on", Width: 12}, {Name: "currency", Head: "Currency", Width: 9}, {Name: "owed", Head: "Owed", Width: 12, Number: true},
			{Name: "paid", Head: "Paid", Width: 12, Number: true}, {Name: "left", Head: "Left", Width: 12, Number: true},
			{Name: "disputed", Head: "Disputed", Width: 12, Number: true}, {Name: "credit_due", Head: "Credit due", Width: 12, Number: true},
		},
	}
	for n := range k.open {
		i := &k.open[n]
		t.Rows = append(t.Rows, []string{i.Supplier, i.Name, strconv.FormatInt(i.Number, 10), i.Content.Number, string(i.Kind), i.TaxPoint, i.DueOn, string(k.currency),
			i.Owed.Fixed(), i.Paid.Fixed(), i.Left().Fixed(), i.Disputed.Fixed(), k.waited[i.ID.String()].Fixed()})
	}
	var b bytes.Buffer
	if err := write(&b, t); err != nil {
		return fmt.Errorf("creditors on paper: %w", err)
	}
	return sendFile(c, kind, "creditors-"+k.on+ending, b.Bytes())
}
