; Gate remote: two keys, and a transmitter that is switched on and off. It sleeps until a key is
; pressed, and then sends one telegram after the other as long as it is held: the remote's number in
; four bytes, the key, and a check byte, each bit as a change of the transmitter in its middle.
;
; The number is not part of this program. It is programmed into the last row of the memory, words
; 1FE0 to 1FE3, one byte a word, highest byte first. Words that were never programmed read FF: a
; remote without a number sends nothing and its light stays on while a key is held.
;
; TX14 is an invented part. Registers and configuration bits have the names and places of gputils'
; p16f1459.inc, for which gpasm assembles.
        list    p=16f1459, r=dec
        errorlevel -302                 ; every register's bank is chosen before it is used
        include <p16f1459.inc>

        __config _CONFIG1, _FOSC_INTOSC & _WDTE_OFF & _PWRTE_ON & _MCLRE_ON & _CP_OFF & _BOREN_ON & _CLKOUTEN_OFF & _IESO_OFF & _FCMEN_OFF
        __config _CONFIG2, _WRT_OFF & _CPUDIV_NOCLKDIV & _USBLSCLK_48MHz & _PLLMULT_3x & _PLLEN_DISABLED & _STVREN_ON & _BORV_LO & _LPBOR_OFF & _DEBUG_OFF & _LVP_ON

number      equ     0x1FE0              ; word of its first byte
number_size equ     4
preamble    equ     12                  ; bits, all of them 1
check_start equ     0xA5

transmitter equ     0                   ; of LATC
light       equ     1                   ; of LATC
keys        equ     0x30                ; of PORTA: pressed is 0

        cblock  0x70                    ; the same in every bank
        key                             ; 1, 2 or 3 for both
        check                           ; exclusive or of all bytes sent
        byte
        bits
        left
        wait
        seen                            ; and of all bytes of the number
        endc

        org     0x0000
        movlw   (1 << IRCF3) | (1 << IRCF2) | (1 << IRCF0)
        banksel OSCCON
        movwf   OSCCON                  ; 4 MHz: an instruction a microsecond
        goto    start

; No interrupt is used: a key that changes only ends the sleep.
        retfie

start
        banksel ANSELA
        clrf    ANSELA
        clrf    ANSELC
        banksel LATC
        clrf    LATC
        banksel TRISC
        movlw   ~((1 << transmitter) | (1 << light)) & 0xFF
        movwf   TRISC
        banksel IOCAN
        movlw   keys
        movwf   IOCAN                   ; falling edges: pressed
        bsf     INTCON, IOCIE

again
        call    read_keys
        btfsc   STATUS, Z
        goto    rest
        call    find_number
        btfss   STATUS, Z
        goto    no_number
        call    telegram
        goto    again

no_number
        banksel LATC
        bsf     LATC, light
        goto    again

rest
        banksel LATC
        clrf    LATC
        banksel IOCAF
        clrf    IOCAF                   ; an edge before this one is looked at below
        call    read_keys
        btfss   STATUS, Z
        goto    again
        sleep
        nop
        goto    again

; W and key: the keys held, 0 for none; Z as of W.
read_keys
        banksel PORTA
        swapf   PORTA, w
        xorlw   0xFF
        andlw   keys >> 4
        movwf   key
        movf    key, f
        return

; FSR0 at the number; Z unless every byte of it reads FF. The upper half of FSR0's range reads the
; low byte of program words.
find_number
        call    at_number
        movlw   0xFF
        movwf   seen
        movlw   number_size
        movwf   left
next_seen
        moviw   FSR0++
        andwf   seen, f
        decfsz  left, f
        goto    next_seen
        call    at_number
        incf    seen, w                 ; 0 only where seen is FF
        btfss   STATUS, Z
        goto    has_number
        bcf     STATUS, Z
        return
has_number
        bsf     STATUS, Z
        return

at_number
        movlw   low number
        movwf   FSR0L
        movlw   0x80 | high (number)
        movwf   FSR0H
        return

telegram
        banksel LATC
        movlw   check_start
        movwf   check
        movlw   preamble
        movwf   left
next_preamble
        call    send_1
        decfsz  left, f
        goto    next_preamble
        call    send_0                  ; its end
        movlw   number_size
        movwf   left
next_byte
        moviw   FSR0++
        call    send
        decfsz  left, f
        goto    next_byte
        movf    key, w
        call    send
        movf    check, w
        call    send
        bcf     LATC, transmitter
        movlw   100                     ; telegrams are 20 ms apart
        movwf   left
pause
        call    half_bit
        decfsz  left, f
        goto    pause
        return

; W, highest bit first.
send
        movwf   byte
        xorwf   check, f
        movlw   8
        movwf   bits
next_bit
        rlf     byte, f
        btfsc   STATUS, C
        call    send_1
        btfss   STATUS, C
        call    send_0
        decfsz  bits, f
        goto    next_bit
        return

; A 1 falls in its middle, a 0 rises. The carry stays as it was.
send_1
        bsf     LATC, transmitter
        call    half_bit
        bcf     LATC, transmitter
        goto    half_bit

send_0
        bcf     LATC, transmitter
        call    half_bit
        bsf     LATC, transmitter

half_bit
        movlw   65                      ; 200 us with what is around it
        movwf   wait
        decfsz  wait, f
        goto    $ - 1
        return

        end
