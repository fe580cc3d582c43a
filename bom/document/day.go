package document

// ValidDay says whether a text is a day of the calendar as YYYY-MM-DD, years
// 1900 to 2199.
func ValidDay(day string) bool {
	if len(day) != 10 || day[4] != '-' || day[7] != '-' {
		return false
	}
	number := func(s string) int {
		n := 0
		for i := range len(s) {
			if s[i] < '0' || s[i] > '9' {
				return -1
			}
			n = n*10 + int(s[i]-'0')
		}
		return n
	}
	year, month, of := number(day[:4]), number(day[5:7]), number(day[8:])
	if year < 1900 || year > 2199 || month < 1 || month > 12 || of < 1 {
		return false
	}
	days := [...]int{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}[month-1]
	if month == 2 && (year%4 == 0 && year%100 != 0 || year%400 == 0) {
		days = 29
	}
	return of <= days
}
