"""How parts are cut from stock: bars by pattern, panels by pairs.

`bars` cuts one stock; it takes the plan of `fill` (best fit decreasing) where that meets a
bound of `bounds`, else that of `columns` (column generation with HiGHS, an extra). `panels`
pairs cut panels; `demand` says what a ceiling needs.
"""
