package api

import (
	"cmp"
	"errors"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/order"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/purchase"
)

// purchaseRoutes are what suppliers charge and are paid, VAT of a period, vans
// bought to be sold, and the end of cancelled jobs.
func purchaseRoutes() []route {
	keepers := []auth.Role{auth.Owner, auth.Books}
	return []route{
		{http.MethodGet, "/v1/supplier-invoices", keepers, (*Server).listSupplierInvoices},
		{http.MethodPost, "/v1/supplier-invoices", keepers, (*Server).addSupplierInvoice},
		{http.MethodGet, "/v1/supplier-invoices/:id", keepers, (*Server).getSupplierInvoice},
		{http.MethodPut, "/v1/supplier-invoices/:id", keepers, (*Server).changeSupplierInvoice},
		{http.MethodPost, "/v1/supplier-invoices/:id/decision", keepers, (*Server).decideSupplierInvoice},
		{http.MethodGet, "/v1/creditors", keepers, (*Server).getCreditors},
		{http.MethodGet, "/v1/creditors.csv", keepers, (*Server).getCreditorsCSV},
		{http.MethodGet, "/v1/creditors.xlsx", keepers, (*Server).getCreditorsXLSX},
		{http.MethodGet, "/v1/supplier-payments", keepers, (*Server).listSupplierPayments},
		{http.MethodPost, "/v1/supplier-payments", keepers, (*Server).addSupplierPayment},
		{http.MethodGet, "/v1/supplier-payments/:id", keepers, (*Server).getSupplierPayment},
		{http.MethodPost, "/v1/supplier-payments/:id/take-back", keepers, (*Server).takeBackSupplierPayment},
		{http.MethodGet, "/v1/purchases", keepers, (*Server).getPurchases},
		{http.MethodPut, "/v1/purchases", keepers, (*Server).changePurchases},
		{http.MethodGet, "/v1/vat-report", keepers, (*Server).getVATReport},
		{http.MethodGet, "/v1/vat-report.csv", keepers, (*Server).getVATReportCSV},
		{http.MethodGet, "/v1/vat-report.xlsx", keepers, (*Server).getVATReportXLSX},
		{http.MethodGet, "/v1/stock-vans", keepers, (*Server).listStockVans},
		{http.MethodPost, "/v1/stock-vans", keepers, (*Server).addStockVan},
		{http.MethodGet, "/v1/stock-vans/:id", keepers, (*Server).getStockVan},
		{http.MethodPost, "/v1/stock-vans/:id/sale", keepers, (*Server).sellStockVan},
		{http.MethodGet, "/v1/jobs/:id/settlement", keepers, (*Server).getSettlement},
		{http.MethodPost, "/v1/jobs/:id/settlement", []auth.Role{auth.Owner}, (*Server).decideSettlement},
	}
}

// listSupplierInvoices gives a page of them, the newest first.
func (s *Server) listSupplierInvoices(c *gin.Context) error {
	filter := store.SupplierInvoiceFilter{State: purchase.State(c.Query("state")), Supplier: c.Query("supplier_code"), Unpaid: c.Query("unpaid") == "true"}
	question := "supplier invoices " + string(filter.State) + " of " + filter.Supplier + " unpaid " + strconv.FormatBool(filter.Unpaid)
	list, next, err := newestFirst(s, c, question, func(tx store.ReadTx, after *store.Place, limit int) ([]store.SupplierInvoiceEntry, *store.Place, error) {
		filter.After, filter.Limit = after, limit
		return tx.SupplierInvoices(filter)
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.SupplierInvoices{Invoices: mapped(list, contractSupplierInvoiceSummary), Next: next})
}

// getSupplierInvoice gives one, held against its order as that is now.
func (s *Server) getSupplierInvoice(c *gin.Context) error {
	id, err := pathID(c, "supplier's invoice")
	if err != nil {
		return err
	}
	var shown openapi.SupplierInvoice
	var version int64
	err = s.readTx(c, func(tx store.ReadTx) error {
		found, err := tx.SupplierInvoice(id)
		if err != nil {
			return err
		}
		m, err := holdSupplierInvoice(tx, found.Content)
		version, shown = found.Version, contractSupplierInvoice(&found, &m)
		return err
	})
	if err != nil {
		return notFoundIs(refusedInBody(err), "supplier's invoice")
	}
	return answerOfTheDay(c, http.StatusOK, version, shown)
}

// holdSupplierInvoice holds a paper against its order, unless it was decided on:
// then what was found is kept with it.
func holdSupplierInvoice(tx store.ReadTx, i *purchase.Invoice) (purchase.Match, error) {
	if i.Match != nil {
		return *i.Match, nil
	}
	set, err := tx.Purchases(i.Currency)
	if err != nil {
		return purchase.Match{}, err
	}
	var o *order.Order
	var before []*purchase.Invoice
	if i.Order != "" {
		found, err := tx.Order(askedID(i.Order))
		if err != nil {
			return purchase.Match{}, err
		}
		if o, err = found.Content(); err != nil {
			return purchase.Match{}, err
		}
		if before, err = tx.SupplierInvoicesOf(found.ID); err != nil {
			return purchase.Match{}, err
		}
	}
	m, faults, err := purchase.Hold(i, o, before, set.Tolerance)
	if len(faults) > 0 {
		return m, faults
	}
	return m, err
}

// addSupplierInvoice keeps a paper as it is printed.
func (s *Server) addSupplierInvoice(c *gin.Context) error {
	content, err := s.sentSupplierInvoice(c)
	if err != nil {
		return err
	}
	return s.keepSupplierInvoice(c, http.StatusCreated, func(tx store.WriteTx) (store.SupplierInvoice, error) {
		if err := namedByPaper(tx.ReadTx, content); err != nil {
			return store.SupplierInvoice{}, err
		}
		return tx.AddSupplierInvoice(*content)
	})
}

// changeSupplierInvoice puts right what was entered, until it is decided on.
func (s *Server) changeSupplierInvoice(c *gin.Context) error {
	id, version, err := pathVersion(c, "supplier's invoice")
	if err != nil {
		return err
	}
	content, err := s.sentSupplierInvoice(c)
	if err != nil {
		return err
	}
	return s.keepSupplierInvoice(c, http.StatusOK, func(tx store.WriteTx) (store.SupplierInvoice, error) {
		was, err := enteredInvoice(tx, id, version)
		if err != nil {
			return was, err
		}
		if err := namedByPaper(tx.ReadTx, content); err != nil {
			return was, err
		}
		was.Content = content
		return tx.ChangeSupplierInvoice(was)
	})
}

// enteredInvoice is a paper at a version, not decided on yet.
func enteredInvoice(tx store.WriteTx, id uuid.UUID, version int64) (store.SupplierInvoice, error) {
	was, err := tx.SupplierInvoice(id)
	switch {
	case err != nil:
		return was, notFoundIs(err, "supplier's invoice")
	case was.Version != version:
		return was, store.ErrStale
	case was.State != purchase.Entered:
		return was, &problem{code: openapi.ProblemCodeStateConflict, detail: "The " + string(was.Kind) + " is " + string(was.State) + ".", remedy: "Put it right by a credit note."}
	}
	return was, nil
}

// keepSupplierInvoice writes a paper that can be held against its order.
func (s *Server) keepSupplierInvoice(c *gin.Context, status int, write func(store.WriteTx) (store.SupplierInvoice, error)) error {
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		now, err := write(tx)
		if err != nil {
			return reply{}, err
		}
		m, err := holdSupplierInvoice(tx.ReadTx, now.Content)
		if err != nil {
			return reply{}, refusedInBody(err)
		}
		r := reply{status: status, version: now.Version, body: contractSupplierInvoice(&now, &m)}
		if status == http.StatusCreated {
			r.location = "/v1/supplier-invoices/" + now.ID.String()
		}
		return r, nil
	})
}

// namedByPaper holds the order that a paper names, and the invoice that a credit
// note is of.
func namedByPaper(tx store.ReadTx, note *purchase.Invoice) error {
	if note.Order != "" {
		_, err := tx.OrderEntry(askedID(note.Order))
		if errors.Is(err, store.ErrNotFound) {
			return unknownReference("/order", "order")
		}
		if err != nil {
			return err
		}
	}
	if note.Credits == "" {
		return nil
	}
	of, err := tx.SupplierInvoice(askedID(note.Credits))
	switch {
	case errors.Is(err, store.ErrNotFound):
		return unknownReference("/credits", "supplier's invoice")
	case err != nil:
		return err
	case of.Kind != purchase.Charge || of.Supplier != note.Supplier || of.Gross.Currency() != note.Currency:
		return supplyRefused(document.Faults{{Code: "contradiction", At: "credits", Reason: "It is no invoice of this supplier in this currency.", Remedy: "Name the invoice that the credit note is of."}})
	}
	return nil
}

// sentSupplierInvoice reads a paper from the body.
func (s *Server) sentSupplierInvoice(c *gin.Context) (*purchase.Invoice, error) {
	asked, err := decode[openapi.NewSupplierInvoice](c)
	if err != nil {
		return nil, err
	}
	i := purchase.Invoice{Kind: purchase.Kind(asked.Kind), Number: asked.Number, Supplier: asked.SupplierCode, Name: asked.SupplierName, IssuedOn: asked.IssuedOn,
		TaxPoint: cmp.Or(asked.TaxPoint, asked.IssuedOn), DueOn: asked.DueOn, Order: asked.Order, Credits: asked.Credits, OwnVAT: purchase.OwnVAT(asked.OwnVat)}
	if o, err := s.pricedOffer(c, ""); err == nil {
		if known, ok := o.book.Supplier(i.Supplier); ok {
			i.Name = known.Name
		}
		i.Currency = o.book.Currency()
	} else if err := s.readTx(c, func(tx store.ReadTx) error {
		w, err := tx.Workshop()
		i.Currency = money.Currency(w.Currency)
		return err
	}); err != nil {
		return nil, err
	}
	if i.Name == "" {
		return nil, supplyRefused(document.Faults{{Code: "unknown_supplier", At: "supplier_code", Reason: "The price-book has no such supplier.", Remedy: "Name one it has, or say the name in supplier_name."}})
	}
	r := sentMoney{currency: i.Currency}
	for n := range asked.Lines {
		l, at := &asked.Lines[n], "lines/"+strconv.Itoa(n)
		i.Lines = append(i.Lines, purchase.Line{Kind: purchase.LineKind(l.Kind), Line: int(l.Line), Words: l.Words, Quantity: r.decimal(at+"/quantity", l.Quantity),
			UnitPrice: r.unit(at+"/unit_price", l.UnitPrice), Amount: r.amount(at+"/amount", l.Amount), Treatment: pricebook.Treatment(l.Treatment),
			Percent: r.decimal(at+"/vat_percent", l.VatPercent)})
	}
	for n := range asked.Vat {
		v, at := &asked.Vat[n], "vat/"+strconv.Itoa(n)
		i.VAT = append(i.VAT, ledger.VATSum{Treatment: pricebook.Treatment(v.Treatment), Percent: r.decimal(at+"/vat_percent", v.VatPercent), Net: r.amount(at+"/net", v.Net), VAT: r.amount(at+"/vat", v.Vat)})
	}
	i.Gross = r.amount("gross", asked.Gross)
	if err := r.refused(); err != nil {
		return nil, err
	}
	read, faults := purchase.New(i)
	if len(faults) > 0 {
		return nil, supplyRefused(pointed(faults))
	}
	return &read, nil
}

// decideSupplierInvoice accepts a paper, in part or whole, or refuses it.
func (s *Server) decideSupplierInvoice(c *gin.Context) error {
	asked, err := decode[openapi.SupplierInvoiceDecision](c)
	if err != nil {
		return err
	}
	id, version, err := pathVersion(c, "supplier's invoice")
	if err != nil {
		return err
	}
	return s.keepSupplierInvoice(c, http.StatusOK, func(tx store.WriteTx) (store.SupplierInvoice, error) {
		was, err := enteredInvoice(tx, id, version)
		if err != nil {
			return was, err
		}
		m, err := holdSupplierInvoice(tx.ReadTx, was.Content)
		if err != nil {
			return was, refusedInBody(err)
		}
		on, err := dayOf(tx.ReadTx)
		if err != nil {
			return was, err
		}
		content, faults := was.Content.Decide(purchase.State(asked.Decision), m, on)
		if len(faults) > 0 {
			return was, supplyRefused(faults)
		}
		was.Content, was.Words = &content, asked.Reason
		now, err := enterSupplierInvoice(tx, was)
		return now, refusedInBody(err)
	})
}

// enterSupplierInvoice enters a paper that was decided on in the books, and
// keeps it. Of a credit note what its invoice still disputes goes first.
func enterSupplierInvoice(tx store.WriteTx, i store.SupplierInvoice) (store.SupplierInvoice, error) {
	c := i.Content
	owed, disputed := c.Accepted, c.Disputed
	var back []ledger.VATSum
	if c.Kind == purchase.CreditNote && c.State == purchase.Accepted {
		back, owed = c.VAT, nil
		if c.Credits != "" {
			of, err := creditNote(tx, c, &back)
			if err != nil {
				return i, err
			}
			if _, err := tx.ChangeSupplierInvoice(of); err != nil {
				return i, err
			}
		}
	}
	lines, err := purchase.Posting(c, back)
	if err != nil {
		return i, err
	}
	if i.Owed, err = purchase.Sum(owed, c.Currency); err == nil && c.Kind == purchase.CreditNote {
		i.Owed, err = purchase.Sum(back, c.Currency)
		i.Owed = i.Owed.Neg()
	}
	if err != nil {
		return i, err
	}
	if i.Disputed, err = purchase.Sum(disputed, c.Currency); err != nil {
		return i, err
	}
	if lines == nil {
		return tx.ChangeSupplierInvoice(i)
	}
	book, err := tx.Book(nil)
	if err != nil {
		return i, err
	}
	day := c.TaxPoint
	if day <= book.ClosedThrough() { // what comes too late for its period is taken off in the next
		day = c.DecidedOn
	}
	done, err := book.Enter(ledger.Entry{Day: day, Kind: ledger.Bought, Document: ledger.Document{Noun: "supplier's invoice", ID: i.ID.String()}, Lines: lines})
	if err != nil {
		return i, err
	}
	i.Entry = done.Number
	return tx.ChangeSupplierInvoice(i)
}

// creditNote takes a note off its invoice: back is what is owed back beyond what
// was disputed, and the invoice has so much less of that.
func creditNote(tx store.WriteTx, note *purchase.Invoice, back *[]ledger.VATSum) (store.SupplierInvoice, error) {
	of, err := tx.SupplierInvoice(askedID(note.Credits))
	if err != nil {
		return of, err
	}
	if of.State == purchase.Entered {
		return of, document.Faults{{Code: "state", At: "credits", Reason: "The invoice it is of was not decided on yet.", Remedy: "Decide on that first."}}
	}
	earlier, err := tx.CreditsOf(of.ID)
	if err != nil {
		return of, err
	}
	owed, left, faults := purchase.Credit(note, of.Content, earlier)
	if len(faults) > 0 {
		return of, faults
	}
	*back = owed
	of.Disputed, err = purchase.Sum(left, note.Currency)
	return of, err
}
