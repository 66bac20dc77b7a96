; The same alarm for a part with words of 14 bits; addresses and configuration word from gputils'
; p16f877a.inc.
        list    p=16f877a
        include <p16f877a.inc>
        __config 0x3F71
sum     equ     0x20
count   equ     0x21
reset   code    0x0000
        goto    main
table   code    0x0020
trend   addwf   PCL, f
        dt      3, 1, 4, 1, 5
alarm   code    0x0100
main    clrf    sum
        movlw   5
        movwf   count
again   movf    count, w
        call    trend
        addwf   sum, f
        decfsz  count, f
        goto    again
        goto    main
stored  code    0x2100
        de      0x02, 0x01
        end
