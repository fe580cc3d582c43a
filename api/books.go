package api

import (
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
)

// getBooks gives what stands on every account.
func (s *Server) getBooks(c *gin.Context) error {
	var books store.Books
	var book *ledger.Book
	var g moneyGround
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		if g, err = readMoneyGround(tx); err != nil {
			return err
		}
		books = g.books
		book, err = tx.BookOfAll()
		return err
	})
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, books.Version+1, contractBooks(books, book, g.currency))
}

// The version that is shown counts from 1, that of books in which nothing was
// entered yet.
func booksVersion(shown int64) int64 { return shown - 1 }

func contractBooks(b store.Books, book *ledger.Book, c money.Currency) openapi.Books {
	out := openapi.Books{
		Version: b.Version + 1, ChangedAt: b.ChangedAt, Entries: b.Entries, Head: b.Head, ClosedThrough: b.ClosedThrough,
		Settings: openapi.BooksSettings{
			CustomersMoneyApart: b.CustomersMoneyApart, SlotWaitsForDeposit: b.SlotWaitsForDeposit, ApplyCertain: b.ApplyCertain,
			Codes: mapped(b.Codes, func(k store.AccountCode) openapi.AccountCode {
				return openapi.AccountCode{Account: openapi.LedgerAccount(k.Account), Code: k.Code}
			}),
		},
		Accounts: mapped(ledger.Accounts(), func(a ledger.Account) openapi.AccountBalance {
			one := openapi.AccountBalance{Account: openapi.LedgerAccount(a), Balance: contractAmount(book.Balance(a, c))}
			if code := b.Code(a); code != string(a) {
				one.Code = code
			}
			return one
		}),
	}
	return out
}

// booksReply answers with the books as they are after the transaction.
func booksReply(tx store.WriteTx, now store.Books, c money.Currency) (reply, error) {
	book, err := tx.BookOfAll()
	return reply{status: http.StatusOK, version: now.Version + 1, body: contractBooks(now, book, c)}, err
}

// setBooks sets what holds for money.
func (s *Server) setBooks(c *gin.Context) error {
	asked, err := decode[openapi.BooksSettings](c)
	if err != nil {
		return err
	}
	set := store.BooksSettings{CustomersMoneyApart: asked.CustomersMoneyApart, SlotWaitsForDeposit: asked.SlotWaitsForDeposit, ApplyCertain: asked.ApplyCertain}
	for i, k := range asked.Codes {
		if slices.ContainsFunc(set.Codes, func(o store.AccountCode) bool { return o.Account == ledger.Account(k.Account) }) {
			return moneyRefused(document.Faults{{Code: "twice", At: "codes/" + strconv.Itoa(i+1) + "/account", Reason: "The account has a code already.", Remedy: "Name every account once."}})
		}
		set.Codes = append(set.Codes, store.AccountCode{Account: ledger.Account(k.Account), Code: k.Code})
	}
	shown, err := ifMatch(c)
	if err != nil {
		return err
	}
	g, err := s.moneyGround(c)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		now, err := tx.SetBooks(booksVersion(shown), set)
		if err != nil {
			return reply{}, err
		}
		return booksReply(tx, now, g.currency)
	})
}

// closeBooks shuts every day through one.
func (s *Server) closeBooks(c *gin.Context) error {
	asked, err := decode[openapi.CloseBooks](c)
	if err != nil {
		return err
	}
	g, err := s.moneyGround(c)
	if err != nil {
		return err
	}
	if asked.Through >= g.today {
		return moneyRefused(document.Faults{{Code: "day", At: "through", Reason: "That day is not over.", Remedy: "Name a day before today."}})
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		now, err := tx.CloseBooks(asked.Through)
		if err != nil {
			return reply{}, moneyRefused(err)
		}
		return booksReply(tx, now, g.currency)
	})
}

// listEntries gives entries in order.
func (s *Server) listEntries(c *gin.Context) error {
	after, err := strconv.ParseInt(c.DefaultQuery("after", "0"), 10, 64)
	if err != nil {
		return brokenField("after", "wrong_form", "It is no number.", "Name the number of an entry.")
	}
	limit, err := pageSize(c)
	if err != nil {
		return err
	}
	var list []ledger.Entry
	err = s.readTx(c, func(tx store.ReadTx) (err error) { list, err = tx.LedgerEntries(after, limit); return err })
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.LedgerEntries{Entries: mapped(list, contractEntry)})
}

// enterPlainly enters something that is no receipt's and no job's.
func (s *Server) enterPlainly(c *gin.Context, kind ledger.Kind, noun, day string, lines func(currency money.Currency) ([]ledger.Line, error)) error {
	g, err := s.moneyGround(c)
	if err != nil {
		return err
	}
	list, err := lines(g.currency)
	if err != nil {
		return moneyRefused(err)
	}
	on, err := g.dayAsked("/day", day)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		b, err := tx.Book(nil)
		if err != nil {
			return reply{}, err
		}
		done, err := b.Enter(ledger.Entry{Day: on, Kind: kind, Document: ledger.Document{Noun: noun, ID: tx.NewID().String()}, Lines: list})
		if err != nil {
			return reply{}, moneyRefused(err)
		}
		return reply{status: http.StatusCreated, body: contractEntry(done)}, nil
	})
}

// above refuses an amount of nothing.
func above(field string, a money.Amount) error {
	if a.Sign() > 0 {
		return nil
	}
	return document.Faults{{Code: "amount", At: field, Reason: "It is nothing, or less.", Remedy: "Give more than nothing."}}
}

// moveMoney moves money between accounts that hold it.
func (s *Server) moveMoney(c *gin.Context) error {
	asked, err := decode[openapi.MoveMoney](c)
	if err != nil {
		return err
	}
	return s.enterPlainly(c, ledger.Moved, "move", asked.Day, func(currency money.Currency) ([]ledger.Line, error) {
		amount, err := askedMoney("/amount", asked.Amount, currency)
		if err == nil {
			err = above("amount", amount)
		}
		if err == nil && asked.From == asked.Into {
			err = document.Faults{{Code: "contradiction", At: "into", Reason: "It is the same account.", Remedy: "Name two."}}
		}
		return ledger.Move(amount, ledger.Account(asked.From), ledger.Account(asked.Into)), err
	})
}

// recordCardPayout records that card takings came to the bank.
func (s *Server) recordCardPayout(c *gin.Context) error {
	asked, err := decode[openapi.CardPayout](c)
	if err != nil {
		return err
	}
	return s.enterPlainly(c, ledger.PaidOut, "card payout", asked.Day, func(currency money.Currency) ([]ledger.Line, error) {
		taken, err := askedMoney("/taken", asked.Taken, currency)
		if err == nil {
			err = above("taken", taken)
		}
		if err != nil {
			return nil, err
		}
		fee, err := askedMoney("/fee", asked.Fee, currency)
		if err == nil && (fee.Sign() < 0 || fee.Minor() > taken.Minor()) {
			err = document.Faults{{Code: "amount", At: "fee", Reason: "The fee is below nothing, or more than was taken.", Remedy: "Give what was kept of it."}}
		}
		if err != nil {
			return nil, err
		}
		return ledger.CardPayout(taken, fee)
	})
}

// reverseEntry takes a move or a payout back.
func (s *Server) reverseEntry(c *gin.Context) error {
	asked, err := decode[openapi.ReverseEntry](c)
	if err != nil {
		return err
	}
	number, err := strconv.ParseInt(c.Param("number"), 10, 64)
	if err != nil || number < 1 {
		return notFound("entry")
	}
	g, err := s.moneyGround(c)
	if err != nil {
		return err
	}
	on, err := g.dayAsked("/day", asked.Day)
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		e, _, err := tx.LedgerEntry(number)
		if err != nil {
			return reply{}, err
		}
		if e.Kind != ledger.Moved && e.Kind != ledger.PaidOut {
			return reply{}, moneyRefused(document.Faults{{Code: "in_use", At: "", Reason: "The entry belongs to a receipt, a job or an invoice.", Remedy: "Take it back there: a placement, a refund, a credit note."}})
		}
		b, err := tx.Book(nil, number)
		if err != nil {
			return reply{}, err
		}
		done, err := b.TakeBack(number, on, e.Document)
		if err != nil {
			return reply{}, moneyRefused(err)
		}
		return reply{status: http.StatusCreated, body: contractEntry(done)}, nil
	})
	return notFoundIs(err, "entry")
}

func contractEntry(e ledger.Entry) openapi.LedgerEntry {
	return openapi.LedgerEntry{
		Number: e.Number, Day: e.Day, At: e.At, By: e.By, Kind: openapi.LedgerEntryKind(e.Kind), Noun: e.Document.Noun, Document: e.Document.ID,
		Reverses: e.Reverses, Previous: e.Previous, Hash: e.Hash,
		Lines: mapped(e.Lines, func(l ledger.Line) openapi.LedgerLine {
			one := openapi.LedgerLine{Account: openapi.LedgerAccount(l.Account), Amount: contractAmount(l.Amount), Job: l.Job, Party: l.Party}
			if l.VAT != nil {
				one.Vat = openapi.LedgerVAT{Treatment: openapi.Treatment(l.VAT.Treatment), VatPercent: plain(l.VAT.Percent), Net: contractAmount(l.VAT.Net)}
			}
			return one
		}),
	}
}
