/* Numbers: reserve, seal, write, crash, copy, edit, run, back up, restore, enrol again; nothing returns.
 *
 * Bit n of a mask stands for number n. Two processes share one register; two stations; whoever holds
 * the cards, the backups and a station's memory may do MOVES things to them. Asserted: no number is
 * put into two boards. Each -DM_... takes one rule away; `run.py` shows that it is then broken, and
 * its table names the code and the test that hold the rule.
 *
 * Assumed, as the manual says: the file that keeps the newest sealed allotment beside the register is
 * not set back with it, and a copy of a register is not worked with beside it. */
#define N 4                                            /* numbers of the window */
#define A 3                                            /* allotments ever reserved */
#define C 2                                            /* cards */
#ifndef MOVES
#define MOVES 2
#endif
#define ROW(k) (1 << (k))

typedef Allotment { byte mask; byte st; byte en };     /* what is signed */
typedef Image { byte al; byte log };                   /* a card: allotment k + 1, its log */
typedef Slot { byte al; byte used };                   /* of a station's memory */
Allotment al[A]; byte nal;                             /* all that were ever reserved, restored or not */
Image im[C];
Slot a[2]; Slot b[2]; byte enr[2];
byte nxt, rows, sealed, fre;                           /* register: next number, rows, sealed rows */
byte bnxt, brows, bsealed; bool backed;                /* its backup */
byte newest;                                           /* beside the register: allotment k + 1 */
bool onboard[N];                                       /* number n stands in a board */
byte moves = MOVES;

inline commit(z, vk, vu) {                             /* durable before anything else happens */
#ifdef M_ONESLOT
  b[z].al = a[z].al; b[z].used = a[z].used;            /* the other slot keeps what was */
#else
  b[z].al = vk; b[z].used = vu;
#endif
  a[z].al = vk; a[z].used = vu
}
inline card(x) { if :: x = 0 :: x = 1 fi }
inline station(x) {
#ifdef ONE_STATION
  x = 0
#else
  if :: x = 0 :: x = 1 fi
#endif
}
inline burn(n) { assert(!onboard[n]); onboard[n] = true }
inline look() {                                        /* the newest sealed allotment is met */
  if
#ifndef M_NONEWEST
  :: newest != 0 && (rows & ROW(newest - 1)) == 0 -> nxt = N; rows = rows | ROW(newest - 1)
#endif
  :: else fi
}
inline keep(k) {                                       /* unless one reserved later is sealed */
#ifdef M_ANYNEWEST
  newest = k + 1
#else
  if :: (sealed >> (k + 1)) == 0 -> newest = k + 1 :: else fi
#endif
}

proctype Desk() { byte m, k, c, s;
end: do
 :: atomic { nal < A && (nxt < N || fre != 0) -> look();
      if :: nxt < N -> m = 3 << nxt :: nxt >= N && fre != 0 -> m = fre :: else -> goto out fi;
      station(s);
#ifdef M_NOLOCK
    }
    atomic { if :: nal == A -> goto out :: else fi;
#endif
      k = nal; nal++; al[k].mask = m; al[k].st = s; al[k].en = enr[s];
#ifdef M_WRITEFIRST
      card(c); im[c].al = k + 1; im[c].log = 0;
    }
    if :: skip :: goto out fi;                         /* killed before the register knows */
    atomic {
#endif
      rows = rows | ROW(k);
      if :: m == (3 << nxt) -> nxt = nxt + 2 :: else fre = fre & ~m fi
    }
    if :: skip :: goto out fi;                         /* killed: the numbers are spent */
    atomic {
#ifndef M_SEALANY
      if :: (rows & ROW(k)) == 0 -> goto out :: else fi;   /* set back meanwhile: another's row */
#endif
#if !defined(M_SEALBLIND) && !defined(M_NONEWEST)
      if :: newest != 0 && (rows & ROW(newest - 1)) == 0 -> goto out :: else fi;
#endif
      sealed = sealed | ROW(k);
#ifndef M_LATENEWEST
      keep(k)
#else
      skip
#endif
    }
    if :: skip :: goto out fi;
    atomic {
#ifndef M_WRITEFIRST
      card(c); im[c].al = k + 1; im[c].log = 0
#else
      skip
#endif
    }
    if :: skip :: goto out fi;
#ifdef M_LATENEWEST
    atomic { keep(k) }
#endif
    goto out
#ifdef M_VOID
 :: atomic { nal > 0 && (sealed & ROW(nal - 1)) == 0 && (rows & ROW(nal - 1)) != 0 ->
      fre = fre | al[nal - 1].mask; rows = rows & ~ROW(nal - 1) }
#endif
#ifdef M_LOGRETURN
 :: atomic { card(c);
      if :: im[c].al != 0 -> fre = fre | (al[im[c].al - 1].mask & ~im[c].log) :: else fi; goto out }
#endif
 :: false -> out: atomic { m = 0; k = 0; c = 0; s = 0 }
 od }

proctype Station(byte s) { byte c, k, n, old;
end: do
 :: atomic { card(c); k = im[c].al;
      if
      :: k == 0 -> goto out
#ifndef M_ANYSTATION
      :: k != 0 && al[k-1].st != s -> goto out
#endif
      :: k != 0 && al[k-1].en != enr[s] -> goto out
#ifndef M_EVICT
      :: k != 0 && k < a[s].al -> goto out
#endif
      :: else fi;
      if :: k != a[s].al -> commit(s, k, 0) :: else fi;
      n = 0; do :: n < N && ((al[k-1].mask & ~a[s].used) & (1 << n)) == 0 -> n++ :: else -> break od;
      if :: n == N -> goto out :: else fi;
      old = a[s].used;
#ifdef M_LATEMARK
      burn(n)
#else
      commit(s, k, old | (1 << n))
#endif
    }
    if :: skip :: goto out fi;                         /* power cut */
    atomic {
      if :: a[s].al != k -> goto out :: else fi;       /* memory lost meanwhile: stop */
#ifdef M_LATEMARK
      commit(s, k, old | (1 << n));
#else
      burn(n);
#endif
#ifdef M_KEEP
      if :: commit(s, k, old); goto out :: skip fi;    /* verify failed, number kept */
#endif
    }
    if :: skip :: goto out fi;
    atomic { if :: im[c].al == k -> im[c].log = im[c].log | (1 << n) :: else fi; goto out }
 :: false -> out: atomic { c = 0; k = 0; n = 0; old = 0 }
 od }

active proctype World() { byte c, s;
end: do
 :: atomic { moves > 0 -> moves--; card(c); station(s);
    if
    :: im[1-c].al = im[c].al; im[1-c].log = im[c].log                                    /* copy a card */
    :: im[c].log = 0                                                                     /* edit its log */
    :: a[s].al = b[s].al; a[s].used = b[s].used                                          /* newest slot rots */
    :: bnxt = nxt; brows = rows; bsealed = sealed; backed = true                         /* back up */
    :: backed -> backed = false; nxt = bnxt; rows = brows; sealed = bsealed              /* restore */
    :: a[s].al = 0; a[s].used = 0; b[s].al = 0; b[s].used = 0;
#ifndef M_REENROL
       enr[s]++                                                                          /* lost, enrolled again */
#endif
    fi; c = 0; s = 0 }
 od }
init { atomic { run Desk(); run Desk(); run Station(0);
#ifndef ONE_STATION
  run Station(1)
#endif
} }
