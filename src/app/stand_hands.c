/* No keyboard?  The computer's keys are two octaves of a piano, by their place and whatever is written on
   them; the mouse and the fingers play on the drawn keys. */
#include "stand_parts.h"

#include <string.h>

enum { VELOCITY = 84, LOWER_C = 60, UPPER_C = 72, OCTAVES = 2, EVDEV_TO_X = 8 };

/* Places of the keys as the Linux kernel numbers them (input-event-codes.h), from the keyboard's C: two rows
   of keys are one row of white keys and the black keys between them. */
static const uint8_t LOWER[] = {44, 31, 45, 32, 46, 47, 34, 48, 35, 49, 36, 50, 51, 38, 52, 39, 53};
static const uint8_t UPPER[] = {16, 3, 17, 4, 18, 19, 6, 20, 7, 21, 8, 22, 23, 10, 24, 11, 25};

static int pitch_of_code(unsigned code)
{
    for (int i = 0; i < (int)sizeof LOWER; i++)
        if (LOWER[i] + EVDEV_TO_X == (int)code) return LOWER_C + i;
    for (int i = 0; i < (int)sizeof UPPER; i++)
        if (UPPER[i] + EVDEV_TO_X == (int)code) return UPPER_C + i;
    return -1;
}

static void send(void *user, bool on, int pitch)
{
    struct stand *s = user;
    struct us_event event = {.kind = on ? US_EVENT_NOTE_ON : US_EVENT_NOTE_OFF,
                             .pitch = (uint8_t)pitch,
                             .velocity = on ? VELOCITY : 0};
    us_event_queue_push(&s->keys, &event);
}

void stand_hands_release(struct stand *s)
{
    fingers_release(&s->hands.fingers);
    memset(s->hands.by_code, 0, sizeof s->hands.by_code);
}

static void move_octave(struct stand *s, int by)
{
    int octave = s->hands.octave + by;
    if (octave >= -OCTAVES && octave <= OCTAVES) s->hands.octave = octave;
}

/* An octave up or down; in the review a page. */
static void turn_page(struct stand *s, int by)
{
    if (stand_review_shown(s))
        stand_review_scroll(s, -0.9 * by);
    else
        move_octave(s, by);
}

/* Keys that do something else than sound; the rest is left to the controls. */
static gboolean command_key(struct stand *s, unsigned key)
{
    switch (key) {
    case GDK_KEY_F11: stand_toggle_full_screen(s); return TRUE;
    case GDK_KEY_F9: stand_show_controls(s, !s->choices.controls_shown); return TRUE;
    case GDK_KEY_F8: stand_session_control(s, US_CONTROL_NEXT_TEXTURE, 0); return TRUE;
    case GDK_KEY_Page_Up: turn_page(s, 1); return TRUE;
    case GDK_KEY_Page_Down: turn_page(s, -1); return TRUE;
    case GDK_KEY_Escape:
        if (stand_review_shown(s)) {
            stand_review_close(s);
            return TRUE;
        }
        stand_hands_release(s);
        stand_session_panic(s);
        return FALSE; /* an open list closes too */
    default: return FALSE;
    }
}

static gboolean on_key_down(GtkEventControllerKey *controller, unsigned key, unsigned code,
                            GdkModifierType state, void *user)
{
    struct stand *s = user;
    /* Letters with Alt also press what is under More: it is shown first. */
    if ((state & GDK_ALT_MASK) && key < 128 && key && strchr("RrSsDdFfHh", (int)key)) stand_show_more(s);
    if (state & (GDK_CONTROL_MASK | GDK_ALT_MASK | GDK_SUPER_MASK | GDK_META_MASK)) return FALSE;
    int pitch = code < STAND_CODES && !stand_review_shown(s) ? pitch_of_code(code) : -1;
    if (pitch < 0) return command_key(s, key);
    if (s->hands.by_code[code]) return TRUE; /* held: the system repeats it */
    pitch += 12 * s->hands.octave;
    s->hands.by_code[code] = (uint8_t)(pitch + 1);
    fingers_press(&s->hands.fingers, pitch);
    return TRUE;
}

static void on_key_up(GtkEventControllerKey *controller, unsigned key, unsigned code, GdkModifierType state,
                      void *user)
{
    struct stand *s = user;
    if (code >= STAND_CODES || !s->hands.by_code[code]) return;
    fingers_let_go(&s->hands.fingers, s->hands.by_code[code] - 1);
    s->hands.by_code[code] = 0;
}

/* Another window has the keys now: their releases would never be seen. */
static void on_active(GObject *window, GParamSpec *what, void *user)
{
    if (!gtk_window_is_active(GTK_WINDOW(window))) stand_hands_release(user);
}

/* The drawn key under the event, or -1. */
static int key_under(struct stand *s, GdkEvent *event)
{
    double x, y, dx, dy, px, py;
    if (!gdk_event_get_position(event, &x, &y)) return -1;
    gtk_native_get_surface_transform(GTK_NATIVE(s->window), &dx, &dy);
    if (!gtk_widget_translate_coordinates(s->window, s->picture, x - dx, y - dy, &px, &py)) return -1;
    return us_scene_key_at(&s->request, px, py);
}

static gboolean on_pointer(GtkEventControllerLegacy *controller, GdkEvent *event, void *user)
{
    struct stand *s = user;
    enum finger_does does;
    const void *who = gdk_event_get_event_sequence(event); /* NULL for the mouse */
    switch (gdk_event_get_event_type(event)) {
    case GDK_BUTTON_PRESS:
        if (gdk_button_event_get_button(event) != GDK_BUTTON_PRIMARY) return FALSE;
        does = FINGER_DOWN;
        break;
    case GDK_TOUCH_BEGIN: does = FINGER_DOWN; break;
    case GDK_MOTION_NOTIFY:
    case GDK_TOUCH_UPDATE: does = FINGER_MOVES; break;
    case GDK_BUTTON_RELEASE:
    case GDK_TOUCH_END:
    case GDK_TOUCH_CANCEL: does = FINGER_UP; break;
    default: return FALSE;
    }
    fingers_touch(&s->hands.fingers, who, does, key_under(s, event));
    return FALSE;
}

void stand_hands_attach(struct stand *s)
{
    GtkEventController *keys = gtk_event_controller_key_new(), *pointer = gtk_event_controller_legacy_new();
    fingers_init(&s->hands.fingers, send, s);
    /* Before any control sees them: letters and digits are the piano wherever the focus is. */
    gtk_event_controller_set_propagation_phase(keys, GTK_PHASE_CAPTURE);
    g_signal_connect(keys, "key-pressed", G_CALLBACK(on_key_down), s);
    g_signal_connect(keys, "key-released", G_CALLBACK(on_key_up), s);
    gtk_widget_add_controller(s->window, keys);
    g_signal_connect(pointer, "event", G_CALLBACK(on_pointer), s);
    gtk_widget_add_controller(s->picture, pointer);
    g_signal_connect(s->window, "notify::is-active", G_CALLBACK(on_active), s);
}
