\version "2.24.0"
#(set-global-staff-size 20)
\paper {
  #(set-paper-size "a4")
  top-margin = 14\mm
  bottom-margin = 14\mm
  left-margin = 17\mm
  right-margin = 17\mm
  indent = 0
  ragged-bottom = ##t  ragged-last-bottom = ##t
  print-page-number = ##f
  markup-system-spacing.basic-distance = #12
  markup-system-spacing.padding = #2
  system-system-spacing.basic-distance = #14
  system-system-spacing.padding = #3
  score-markup-spacing.padding = #3
}
\header { tagline = ##f }
\layout {
  \context { \Score \omit BarNumber \override SpacingSpanner.common-shortest-duration =
    #(ly:make-moment 1/8)
    alternativeRestores = #'(measurePosition) }
  \context { \Staff \numericTimeSignature }
  \context { \ChordNames chordChanges = ##t
    \override ChordName.font-size = #2 \override ChordName.font-series = #'bold
    \override VerticalAxisGroup.nonstaff-relatedstaff-spacing.padding = #0.8 }
  \context { \Lyrics \override LyricText.font-family = #'sans
    \override VerticalAxisGroup.nonstaff-relatedstaff-spacing.padding = #0.6
    \override VerticalAxisGroup.nonstaff-unrelatedstaff-spacing.padding = #2 }
  \context { \Voice \override Fingering.font-size = #-3 \override Fingering.padding = #0.5
    \override Fingering.avoid-slur = #'inside
    \override Fingering.add-stem-support = ##t
    fingeringOrientations = #'(up)
    \override PhrasingSlur.direction = #UP \override TupletBracket.direction = #DOWN }
}

melodyA = {
  \clef treble
  \key d \major
  \tempo 4 = 100
  \repeat volta 2 {
    \time 3/4 \partial 4 d'4-1\( |
    fis'4.-2 g'8-3 a'4-4~ |
    \set Timing.measureLength = #(ly:make-moment 1/2) a'4 g'4-3\) | \set Timing.measureLength = #(ly:make-moment 3/4)
  }
  \repeat volta 2 {
    \set Timing.measureLength = #(ly:make-moment 1/4) gis'4-2\( | \set Timing.measureLength = #(ly:make-moment 3/4)
    \tuplet 3/2 { a'8-3( b'8-4 cis''8-5) } r4 a'4-3\) |
  }
  \alternative {
    \volta 1 {
    \set Timing.measureLength = #(ly:make-moment 1/2) d''2-5 | \set Timing.measureLength = #(ly:make-moment 3/4)
    }
    \volta 2 {
    d'2.-1 |
    }
  }
    \bar "|."
}
leftA = {
  \clef bass
  \key d \major
  \repeat volta 2 {
    r4 |
    <d fis a>2. |
    <cis e a>2 |
  }
  \repeat volta 2 {
    r4 |
    a,2. |
  }
  \alternative {
    \volta 1 {
    <d a>2 |
    }
    \volta 2 {
    <d a>2. |
    }
  }
}
namesA = \chordmode {
  s4 d2. a2 s4 a2.:7 d2 d2.
}
numeralsA = \lyricmode {
  \skip 4 "I"2. "V"2 \skip 4 "V7"2. "I"2 "I"2.
}
wordsA = \lyricmode {
  "1"4 "3"4. "4"8 "5"2 "4"4 "♯4"4 "5"4*1/3 "6"4*1/3 "7"4*1/3 \skip 4 "5"4 "1"2 "1"2.
}
othersA = \lyricmode {
  \skip 1 "or ii"2 \skip 1 "or vi"2
}

melodyB = {
  \clef treble
  \key d \major
  \tempo 4 = 100
  \repeat volta 2 {
    \time 3/4 \partial 4 d'4-1\( |
    fis'4.-2 g'8-3 a'4-4~ |
    \set Timing.measureLength = #(ly:make-moment 1/2) a'4 g'4-3\) | \set Timing.measureLength = #(ly:make-moment 3/4)
  }
  \repeat volta 2 {
    \set Timing.measureLength = #(ly:make-moment 1/4) gis'4-2\( | \set Timing.measureLength = #(ly:make-moment 3/4)
    \tuplet 3/2 { a'8-3( b'8-4 cis''8-5) } r4 a'4-3\) |
  }
  \alternative {
    \volta 1 {
    \set Timing.measureLength = #(ly:make-moment 1/2) d''2-5 | \set Timing.measureLength = #(ly:make-moment 3/4)
    }
    \volta 2 {
    d'2.-1 |
    }
  }
    \bar "|."
}
namesB = \chordmode {
  s4 d2. a2 s4 a2.:7 d2 d2.
}
numeralsB = \lyricmode {
  \skip 4 "I"2. "V"2 \skip 4 "V7"2. "I"2 "I"2.
}
wordsB = \lyricmode {
  "do"4 "mi"4. "fa"8 "sol"2 "fa"4 "fi"4 "sol"4*1/3 "la"4*1/3 "ti"4*1/3 \skip 4 "sol"4 "do"2 "do"2.
}
othersB = \lyricmode {
  \skip 1 "or ii"2 \skip 1 "or vi"2
}

\bookpart {
  \paper { page-count = 1 }
  \header {
    title = "The \"Little\" Ferry"
    subtitle = "D major – left hand: block chords"
    composer = "made up"
  }
  \score {
    <<
      \new ChordNames \namesA
      \new PianoStaff <<
        \new Staff \melodyA
        \new Lyrics \with { \override LyricText.font-size = #0 } \wordsA
        \new Staff \leftA
        \new Lyrics \with { \override LyricText.font-size = #1
          \override LyricText.font-series = #'bold
          \override VerticalAxisGroup.nonstaff-relatedstaff-spacing.padding = #1.5 } \numeralsA
        \new Lyrics \with { \override LyricText.font-size = #-1
          \override LyricText.font-shape = #'italic } \othersA
      >>
    >>
    \layout { }
  }
  \score {
    \unfoldRepeats << \new Staff \melodyA \new Staff \leftA >>
    \midi { }
  }
  \markup \vspace #0.5
  \markup \small \sans \wordwrap {
    The figures under the notes are the steps of the scale. Roman numerals name the chords of the left hand; \italic or marks where another chord fits as well.
    Small figures above the notes are the fingers of the right hand, 1 the thumb.
  }
}

\bookpart {
  \paper { page-count = 1 }
  \header {
    title = "The \"Little\" Ferry"
    subtitle = "D major – chords by name"
    composer = "made up"
  }
  \score {
    <<
      \new ChordNames \namesB
      <<
        \new Staff \melodyB
        \new Lyrics \with { \override LyricText.font-size = #0 } \wordsB
        \new Lyrics \with { \override LyricText.font-size = #1
          \override LyricText.font-series = #'bold
          \override VerticalAxisGroup.nonstaff-relatedstaff-spacing.padding = #1.5 } \numeralsB
        \new Lyrics \with { \override LyricText.font-size = #-1
          \override LyricText.font-shape = #'italic } \othersB
      >>
    >>
    \layout { }
  }
  \score {
    \unfoldRepeats << \new Staff \melodyB >>
    \midi { }
  }
  \markup \vspace #0.5
  \markup \small \sans \wordwrap {
    The syllables under the notes are the steps of the scale. Roman numerals name the chords of the left hand; \italic or marks where another chord fits as well.
  }
}
