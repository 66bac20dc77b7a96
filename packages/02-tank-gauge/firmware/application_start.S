/* What the boot part finds first in the application: where its stack begins and where to enter. Both
 * stand at fixed places; the boot part's own table stays in force, and no interrupt is used. */
    .file "application_start.S"             /* else the linker writes the name of a passing file */
    .syntax unified
    .cpu cortex-m0
    .thumb

    .section .vectors, "a", %progbits
    .word stack_top
    .word application_reset

    .section .text.application_start, "ax", %progbits
    .type application_reset, %function
    .thumb_func
application_reset:
    ldr r0, =data_start
    ldr r1, =data_end
    ldr r2, =data_load
    b 2f
1:  ldmia r2!, {r3}
    stmia r0!, {r3}
2:  cmp r0, r1
    blo 1b
    ldr r0, =bss_start
    ldr r1, =bss_end
    movs r3, #0
    b 4f
3:  stmia r0!, {r3}
4:  cmp r0, r1
    blo 3b
    bl application_main
5:  b 5b
    .pool
