package api

import (
	"errors"
	"net/http"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/invoice"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/receipt"
	"wainscot/pricing/stockbook"
)

// listStockVans gives the stock book.
func (s *Server) listStockVans(c *gin.Context) error {
	var list []store.StockVan
	var currency money.Currency
	err := s.readTx(c, func(tx store.ReadTx) error {
		w, err := tx.Workshop()
		if err == nil {
			currency = money.Currency(w.Currency)
			list, err = tx.StockBook()
		}
		return err
	})
	if err != nil {
		return err
	}
	standing, margins, vat := money.Zero(currency), money.Zero(currency), money.Zero(currency)
	for i := range list {
		if s := list[i].Sale; s != nil {
			margins, err = margins.Add(s.Margin)
			if err == nil {
				vat, err = vat.Add(s.VAT)
			}
		} else if list[i].Standing() {
			standing, err = standing.Add(list[i].Paid)
		}
		if err != nil {
			return err
		}
	}
	return answer(c, http.StatusOK, openapi.StockVans{Vans: mapped(list, contractStockVan), Standing: contractAmount(standing), Margins: contractAmount(margins), Vat: contractAmount(vat)})
}

// getStockVan gives one van of the stock book.
func (s *Server) getStockVan(c *gin.Context) error {
	found, err := theOne(s, c, "van of the stock book", store.ReadTx.StockVan)
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, found.Version, contractStockVan(found))
}

// addStockVan takes a van into the stock book.
func (s *Server) addStockVan(c *gin.Context) error {
	asked, err := decode[openapi.NewStockVan](c)
	if err != nil {
		return err
	}
	how := stockbook.How(asked.How)
	if (how == stockbook.Bought) != (asked.From != "") {
		return supplyRefused(document.Faults{{Code: "contradiction", At: "from", Reason: "A van that is bought is paid for from an account; one taken in part exchange is not.", Remedy: "Name the account, or leave it out."}})
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		w, err := tx.Workshop()
		if err != nil {
			return reply{}, err
		}
		if err := namedStockVan(tx.ReadTx, asked.Van, asked.Customer); err != nil {
			return reply{}, err
		}
		r := sentMoney{currency: money.Currency(w.Currency)}
		v := stockbook.Van{Van: asked.Van, How: how, From: asked.Customer, Paid: r.amount("paid", asked.Paid), MileageMiles: int(asked.MileageMiles)}
		if err := r.refused(); err != nil {
			return reply{}, err
		}
		if v.BoughtOn, err = dayDone(tx.ReadTx, asked.On); err != nil {
			return reply{}, err
		}
		v, faults := stockbook.New(v, asked.VatShown)
		if len(faults) > 0 {
			return reply{}, supplyRefused(faults)
		}
		if err := happened(tx, askedID(asked.Customer)); err != nil {
			return reply{}, err
		}
		made, err := takeInVan(tx, v, ledger.Account(asked.From))
		if err != nil {
			return reply{}, refusedBy(err)
		}
		return reply{status: http.StatusCreated, location: "/v1/stock-vans/" + made.ID.String(), version: made.Version, body: contractStockVan(made)}, nil
	})
}

// takeInVan enters a van that came in. Taken in part exchange it is a receipt in
// kind from its seller.
func takeInVan(tx store.WriteTx, v stockbook.Van, from ledger.Account) (store.StockVan, error) {
	book, err := tx.Book(nil)
	if err != nil {
		return store.StockVan{}, err
	}
	kept := store.StockVan{Van: v}
	if v.How == stockbook.Bought {
		return tx.BuyStockVan(book, kept, from)
	}
	in, faults := receipt.New(receipt.Receipt{Day: v.BoughtOn, Into: ledger.TakenIn, Amount: v.Paid, Payer: v.From}, v.BoughtOn)
	if len(faults) > 0 {
		return kept, faults
	}
	came, err := tx.AddReceipt(book, in, in.Day, "")
	if err != nil {
		return kept, err
	}
	kept.Receipt, kept.Entry = came.ID, came.Content.Entry
	return tx.AddStockVan(kept)
}

func namedStockVan(tx store.ReadTx, van, customer string) error {
	if _, err := tx.Van(askedID(van)); err != nil {
		if errors.Is(err, store.ErrNotFound) {
			return unknownReference("/van", "van")
		}
		return err
	}
	return namedCustomer(tx, askedID(customer))
}

// sellStockVan enters the sale of a van.
func (s *Server) sellStockVan(c *gin.Context) error {
	asked, err := decode[openapi.NewStockVanSale](c)
	if err != nil {
		return err
	}
	id, version, err := pathVersion(c, "van of the stock book")
	if err != nil {
		return err
	}
	o, err := s.pricedOffer(c, asked.On)
	if err != nil {
		return err
	}
	percent, ok := o.book.Percent(pricebook.Standard, o.day)
	if !ok {
		return supplyRefused(document.Faults{{Code: "no_rate", At: "on", Reason: "The price-book has no standard rate on that day.", Remedy: "Add an edition that has."}})
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		was, err := tx.StockVan(id)
		switch {
		case err != nil:
			return reply{}, notFoundIs(err, "van of the stock book")
		case was.Version != version:
			return reply{}, store.ErrStale
		}
		if err := namedCustomer(tx.ReadTx, askedID(asked.Customer)); err != nil {
			return reply{}, err
		}
		r := sentMoney{currency: o.book.Currency()}
		price := r.amount("price", asked.Price)
		if err := r.refused(); err != nil {
			return reply{}, err
		}
		on, err := dayDone(tx.ReadTx, asked.On)
		if err != nil {
			return reply{}, err
		}
		sold, faults, err := was.Sell(asked.Customer, on, price, percent)
		if err != nil {
			return reply{}, err
		}
		if len(faults) > 0 {
			return reply{}, supplyRefused(faults)
		}
		if err := happened(tx, askedID(asked.Customer)); err != nil {
			return reply{}, err
		}
		was.Van, was.Job = sold, askedID(asked.Job)
		if err := invoicedVan(tx.ReadTx, was.Job, price); err != nil {
			return reply{}, err
		}
		book, err := tx.Book(nil)
		if err != nil {
			return reply{}, err
		}
		now, err := tx.SellStockVan(book, was)
		if err != nil {
			return reply{}, refusedBy(err)
		}
		return reply{status: http.StatusOK, version: now.Version, body: contractStockVan(now)}, nil
	})
}

// invoicedVan says whether the invoice of a job has a van's price as a line
// under the margin scheme; the nil id is no job.
func invoicedVan(tx store.ReadTx, job uuid.UUID, price money.Amount) error {
	if job == uuid.Nil {
		return nil
	}
	if err := namedJob(tx, "/job", job); err != nil {
		return err
	}
	papers, _, err := tx.InvoicesOf(job)
	if err != nil {
		return err
	}
	for _, p := range papers {
		for i := range p.Lines {
			if l := &p.Lines[i]; p.Kind == invoice.Final && l.Treatment == pricebook.Margin && l.Amount == price {
				return nil
			}
		}
	}
	return supplyRefused(document.Faults{{Code: "not_invoiced", At: "job", Reason: "No invoice of that job charges this price under the margin scheme.", Remedy: "Invoice the job first, or enter the sale by itself."}})
}

func contractStockVan(v store.StockVan) openapi.StockVan {
	out := openapi.StockVan{
		Id: v.ID.String(), Number: whole(int(v.Number)), Version: v.Version, CreatedAt: v.CreatedAt, Van: v.Van.Van, Customer: v.From, How: openapi.StockVanHow(v.How),
		BoughtOn: v.BoughtOn, Paid: contractAmount(v.Paid), MileageMiles: whole(v.MileageMiles), Receipt: contractID(v.Receipt), Entry: v.Entry,
		BackOn: v.BackOn, BackEntry: v.BackEntry,
	}
	if s := v.Sale; s != nil {
		out.Sale = openapi.StockVanSale{Customer: s.To, On: s.On, Price: contractAmount(s.Price), VatPercent: plain(s.Percent), Margin: contractAmount(s.Margin),
			Vat: contractAmount(s.VAT), Job: contractID(v.Job), Entry: v.SaleEntry}
	}
	return out
}
