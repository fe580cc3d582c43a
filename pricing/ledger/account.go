// Package ledger is the workshop's money in double entry: what came in, what of
// it is not yet earned, what was invoiced, refunded and kept, and the VAT on
// each, every entry balanced in its currency and tied to a job, a document and a
// person. Nothing in it is ever changed: a mistake is reversed by another entry.
//
// Amounts on the left (debit) are above nothing, on the right (credit) below;
// the lines of an entry come to nothing. Days are YYYY-MM-DD where the workshop
// is. Who did it and what it is about are ids.
package ledger

import "slices"

// Account is where money stands. A workshop may map them to codes of its own;
// here they have these names.
type Account string

// The accounts; zero is invalid.
const (
	// What the workshop has.
	Bank       Account = "bank"
	ClientBank Account = "customers' money" // an account of its own for deposits, where the workshop keeps one
	Cash       Account = "cash"
	Card       Account = "card takings" // taken by card and not yet paid out
	Debtors    Account = "debtors"      // invoiced and not yet paid
	// VATOnDeposits is VAT that became due with deposits whose work is not
	// invoiced yet: the part of DepositsNotEarned that is VAT.
	VATOnDeposits Account = "VAT on deposits"
	VATPaid       Account = "VAT paid" // on purchases
	TakenIn       Account = "vans taken in part exchange"
	BoughtIn      Account = "vans bought to sell"

	// What it owes.
	Unplaced          Account = "receipts not yet placed"
	DepositsNotEarned Account = "deposits not yet earned" // with their VAT, by job
	VATDue            Account = "VAT due"
	Creditors         Account = "creditors"

	// What it earned and spent.
	Sales        Account = "sales"
	DepositsKept Account = "deposits kept" // of cancelled jobs, without VAT
	Purchases    Account = "purchases"
	Fees         Account = "fees"
	Exchange     Account = "exchange differences"
	WrittenOff   Account = "written off"

	// OpeningBalance is what the workshop had beyond its customers' money on the
	// day it began its books here: the other side of everything taken on.
	OpeningBalance Account = "opening balance"
)

// accounts in the order in which they are shown.
var accounts = []Account{
	Bank, ClientBank, Cash, Card, Debtors, VATOnDeposits, VATPaid, TakenIn, BoughtIn,
	Unplaced, DepositsNotEarned, VATDue, Creditors,
	Sales, DepositsKept, Purchases, Fees, Exchange, WrittenOff, OpeningBalance,
}

// Accounts there are, in the order in which they are shown.
func Accounts() []Account { return slices.Clone(accounts) }

// Words are the accounts there are.
func (Account) Words() []string {
	words := make([]string, len(accounts))
	for i, a := range accounts {
		words[i] = string(a)
	}
	return words
}

// ByJob says whether what stands in an account belongs to a job, always.
func (a Account) ByJob() bool {
	return a == DepositsNotEarned || a == VATOnDeposits || a == Debtors || a == DepositsKept
}

// HoldsMoney says whether the account is money the workshop can count.
func (a Account) HoldsMoney() bool {
	return a == Bank || a == ClientBank || a == Cash || a == Card
}

// hasVAT says whether lines on it name the VAT they are.
func (a Account) hasVAT() bool { return a == VATDue || a == VATOnDeposits || a == VATPaid }
