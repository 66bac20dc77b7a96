/* Vector table and start of the boot part (Arm DDI 0419, The vector table). It has no variables, so
 * there is nothing to prepare but the stack pointer, which the core loads by itself. */
    .file "boot_start.S"             /* else the linker writes the name of a passing file */
    .syntax unified
    .cpu cortex-m0
    .thumb

    .section .vectors, "a", %progbits
    .word ram_end
    .word boot_reset
    .word boot_stop             /* non-maskable interrupt */
    .word boot_stop             /* HardFault, of the application too */

    .section .text.boot_start, "ax", %progbits
    .global boot_reset
    .type boot_reset, %function
    .thumb_func
boot_reset:
    bl boot_main

    .thumb_func
boot_stop:
    b boot_stop

/* boot_enter(stack pointer, entry) */
    .global boot_enter
    .type boot_enter, %function
    .thumb_func
boot_enter:
    mov sp, r0
    bx r1
    .size boot_enter, . - boot_enter
