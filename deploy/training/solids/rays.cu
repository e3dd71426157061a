// Follows rays through a scene's solids: what is seen, which way it faces, what light comes to it.
//
// One source for a GPU (nvcc) and, to try things, for a processor (g++ -x c++). Solids are signed
// distances (Hart, "Sphere tracing", The Visual Computer 12, 1996): positive outside, shorter than
// they are where that is simpler. Those of one object melt into each other or are carved out of
// it. Layouts of slots and surroundings are those of slots.py, which passes them on.

#include <math.h>

#ifdef __CUDACC__
#define DEVICE __device__ static inline
#else
#define DEVICE static inline
#endif

namespace {

enum { MIDDLE = 0, TURN = 3, SIZE = 12, SHAPE = 15, MELT = 18, SIGN = 19, ROUGH = 20 };
enum { FLOOR = 0, BACK = 1, FOLDS = 2, FINE = 14 };
enum { BOX, VESSEL, RING, BALL, LIMB };
const int MOST_SLOTS = 64, NUMBERS = 21, SURROUNDINGS = 15;
// Nothing is seen beyond; a ray has arrived when it is so close, in shares of how far it came.
const float FAR = 1e3f, REACH = 40.0f, CLOSE = 4e-4f;
// Distances are cautious, as melted and folded solids are not as far away as they say.
const float CAUTION = 0.8f, FOLDED = 0.6f;
const int STEPS = 96, LIGHT_STEPS = 32;

// What is used of the slots, and the number that ground has; the wall has the next.
struct Scene {
    const float *slots, *around;
    const int *kinds, *objects, *used;
    int number, ground;
};

DEVICE float at_least(float x, float low) { return fmaxf(x, low); }
DEVICE float within(float x, float low, float high) { return fminf(fmaxf(x, low), high); }

// What fur and leaves are rough by, about -1 to 1.
DEVICE float roughness(float x, float y, float z) {
    float coarse = sinf(x + 1.3f * sinf(y)) * sinf(y + 1.7f * sinf(z)) * sinf(z);
    float fine = sinf(2.7f * x + y) * sinf(2.3f * y - z) * sinf(3.1f * z + x);
    return 0.6f * coarse + 0.6f * fine;
}

// An ellipsoid of three radii.
DEVICE float ball(float u, float v, float w, const float *at) {
    float a = u / at[SIZE], b = v / at[SIZE + 1], c = w / at[SIZE + 2];
    float radius = sqrtf(a * a + b * b + c * c + 1e-9f);
    a /= at[SIZE], b /= at[SIZE + 1], c /= at[SIZE + 2];
    return radius * (radius - 1) / (sqrtf(a * a + b * b + c * c) + 1e-6f);
}

// A box of three half sides, its edges rounded.
DEVICE float box(float u, float v, float w, const float *at) {
    float round_by = at[SHAPE];
    float a = fabsf(u) - at[SIZE] + round_by, b = fabsf(v) - at[SIZE + 1] + round_by;
    float c = fabsf(w) - at[SIZE + 2] + round_by;
    float p = at_least(a, 0), q = at_least(b, 0), r = at_least(c, 0);
    return sqrtf(p * p + q * q + r * r + 1e-12f) + fminf(fmaxf(a, fmaxf(b, c)), 0) - round_by;
}

// A limb along v: half its length, and the radii at its low and its high end; bent towards u.
DEVICE float limb(float u, float v, float w, const float *at) {
    float half = at[SIZE], along = within(v / half, -1, 1);
    float bent = u - at[SHAPE] * (1 - along * along), off = v - half * along;
    float radius = 0.5f * (at[SIZE + 1] + at[SIZE + 2] + along * (at[SIZE + 2] - at[SIZE + 1]));
    return sqrtf(bent * bent + off * off + w * w + 1e-12f) - radius;
}

// A ring about w: radii across and down, and of its tube.
DEVICE float ring(float u, float v, float w, const float *at) {
    float down = v * at[SIZE] / at[SIZE + 1];
    float away = sqrtf(u * u + down * down + 1e-9f) - at[SIZE];
    return sqrtf(away * away + w * w + 1e-12f) - at[SIZE + 2];
}

// A vessel about v, open above: radii below and above, height; wall, bulge, how it widens.
DEVICE float vessel(float u, float v, float w, const float *at) {
    float high = at[SIZE + 2], wall = at[SHAPE], share = within(v / high, 1e-3f, 1);
    float profile = at[SIZE] + (at[SIZE + 1] - at[SIZE]) * powf(share, at[SHAPE + 2]);
    profile += at[SHAPE + 1] * sinf(3.14159265f * share);
    float radius = sqrtf(u * u + w * w + 1e-9f);
    float side = fmaxf(fabsf(radius - profile) - wall, fmaxf(v - high, -v));
    return 0.7f * fminf(side, fmaxf(radius - at[SIZE], fabsf(v) - wall));
}

DEVICE float shape(int kind, float u, float v, float w, const float *at) {
    switch (kind) {
        case BOX: return box(u, v, w, at);
        case VESSEL: return vessel(u, v, w, at);
        case RING: return ring(u, v, w, at);
        case BALL: return ball(u, v, w, at);
        default: return limb(u, v, w, at);
    }
}

// A floor or table with what lies on it in folds.
DEVICE float ground(float x, float y, float z, const float *around) {
    if (around[FLOOR] <= -FAR) return 2 * FAR;
    float height = around[FLOOR];
    for (int fold = FOLDS; fold < FOLDS + 12; fold += 4) {
        if (around[fold] == 0) continue;
        float bend = 0.7f * sinf(0.6f * x - 0.8f * z);
        float wave = sinf(around[fold + 1] * x + around[fold + 2] * z + around[fold + 3] + bend);
        height += around[fold] * (1 - sqrtf(wave * wave + 0.02f));
    }
    return FOLDED * (y - height);
}

// The union of both, its edge smoothed.
DEVICE float melted(float a, float b, float by) {
    float share = within(0.5f + 0.5f * (a - b) / by, 0, 1);
    return a + (b - a) * share - by * share * (1 - share);
}

// Distance to the nearest solid; `which` gets its slot, if it is asked for.
DEVICE float distance(const Scene &scene, float x, float y, float z, int *which) {
    float fine = scene.around[FINE], rough = 0, total = FAR, current = FAR, nearest = FAR;
    bool roughened = false;
    int object = -1;
    for (int place = 0; place < scene.number; place++) {
        int slot = scene.used[place];
        const float *at = scene.slots + slot * NUMBERS, *turn = at + TURN;
        if (scene.objects[slot] != object) total = fminf(total, current), current = FAR;
        object = scene.objects[slot];
        float p = x - at[MIDDLE], q = y - at[MIDDLE + 1], r = z - at[MIDDLE + 2];
        float off = shape(
            scene.kinds[slot],
            turn[0] * p + turn[1] * q + turn[2] * r,
            turn[3] * p + turn[4] * q + turn[5] * r,
            turn[6] * p + turn[7] * q + turn[8] * r,
            at);
        if (at[ROUGH] > 0) {
            if (!roughened) rough = roughness(x * fine, y * fine, z * fine), roughened = true;
            off -= at[ROUGH] * rough;
        }
        if (at[SIGN] < 0) {
            current = -melted(-current, off, at[MELT]);
        } else {
            current = current >= FAR ? off : melted(current, off, at[MELT]);
            if (which && off < nearest) nearest = off, *which = slot;
        }
    }
    total = fminf(total, current);
    float below = ground(x, y, z, scene.around);
    float behind = scene.around[BACK] <= -FAR ? 2 * FAR : z - scene.around[BACK];
    if (which && below < total) *which = scene.ground;
    if (which && behind < fminf(total, below)) *which = scene.ground + 1;
    return fminf(total, fminf(below, behind));
}

// How much of a light is seen, 0 to 1, by how close a ray comes to what is beside it (Quilez,
// "Soft shadows in raymarched SDFs", 2010).
DEVICE float lit(const Scene &scene, const float *start, const float *to, float wide) {
    float far = 0.02f, open = 1;
    for (int step = 0; step < LIGHT_STEPS && open > 0; step++) {
        float off = distance(
            scene, start[0] + far * to[0], start[1] + far * to[1], start[2] + far * to[2], 0);
        open = fminf(open, 0.5f + 0.5f * off / (wide * far));
        far += within(off, 0.02f, 0.6f);
    }
    open = within(open, 0, 1);
    return open * open * (3 - 2 * open);
}

// How much of the sky is seen, 0 to 1, for what is near.
DEVICE float unhidden(const Scene &scene, const float *at, const float *facing) {
    const float around[4] = {0.03f, 0.1f, 0.25f, 0.6f};
    float hidden = 0, share = 1;
    for (int step = 0; step < 4; step++, share *= 0.6f) {
        float away = around[step];
        float off = distance(
            scene, at[0] + away * facing[0], at[1] + away * facing[1], at[2] + away * facing[2], 0);
        hidden += within((away - off) / away, 0, 1) * share;
    }
    return within(1 - 0.42f * hidden, 0, 1);
}

// One ray. Results: how far, slot (-1 for nothing), light seen, sky seen, three of facing.
DEVICE void follow(
    const Scene &scene, const float *eye, const float *way, const float *to, float wide,
    float *out, int apart) {
    float far = 0.05f, place[3], facing[3] = {0, 0, 0}, off = FAR;
    for (int step = 0; step < STEPS && far < REACH; step++) {
        for (int k = 0; k < 3; k++) place[k] = eye[k] + far * way[k];
        off = distance(scene, place[0], place[1], place[2], 0);
        if (off < CLOSE * far) break;
        far += CAUTION * off;
    }
    if (far >= REACH || off > 12 * CLOSE * far) {
        const float nothing[7] = {REACH, -1, 1, 1, 0, 0, 1};
        for (int k = 0; k < 7; k++) out[k * apart] = nothing[k];
        return;
    }
    int which = 0;
    distance(scene, place[0], place[1], place[2], &which);
    const float corners[4][3] = {{1, -1, -1}, {-1, -1, 1}, {-1, 1, -1}, {1, 1, 1}};
    float step = 0.0012f * far, size = 1e-9f;
    for (int corner = 0; corner < 4; corner++) {
        const float *c = corners[corner];
        float rise = distance(
            scene, place[0] + step * c[0], place[1] + step * c[1], place[2] + step * c[2], 0);
        for (int k = 0; k < 3; k++) facing[k] += c[k] * rise;
    }
    for (int k = 0; k < 3; k++) size += facing[k] * facing[k];
    float start[3], off_by = 0.004f + 0.002f * far;
    for (int k = 0; k < 3; k++) {
        facing[k] /= sqrtf(size);
        start[k] = place[k] + off_by * facing[k];
    }
    out[0] = far, out[apart] = (float)which;
    out[2 * apart] = lit(scene, start, to, wide), out[3 * apart] = unhidden(scene, place, facing);
    for (int k = 0; k < 3; k++) out[(4 + k) * apart] = facing[k];
}

#ifdef __CUDACC__

__global__ void each(
    const float *slots, const float *around, const int *kinds, const int *objects, int number,
    const float *eye, const float *way, const float *to, const float *wide, float *out, int pixels) {
    __shared__ float own[MOST_SLOTS * NUMBERS], own_around[SURROUNDINGS];
    __shared__ int own_kinds[MOST_SLOTS], own_objects[MOST_SLOTS], used[MOST_SLOTS], count;
    int scene = blockIdx.y;
    for (int at = threadIdx.x; at < number * NUMBERS; at += blockDim.x)
        own[at] = slots[scene * number * NUMBERS + at];
    for (int at = threadIdx.x; at < number; at += blockDim.x)
        own_kinds[at] = kinds[at], own_objects[at] = objects[at];
    for (int at = threadIdx.x; at < SURROUNDINGS; at += blockDim.x)
        own_around[at] = around[scene * SURROUNDINGS + at];
    __syncthreads();
    if (threadIdx.x == 0) {
        count = 0;
        for (int slot = 0; slot < number; slot++)
            if (own[slot * NUMBERS + MIDDLE] < FAR) used[count++] = slot;
    }
    __syncthreads();
    int pixel = blockIdx.x * blockDim.x + threadIdx.x;
    if (pixel >= pixels) return;
    Scene its = {own, own_around, own_kinds, own_objects, used, count, number};
    float ray[3];
    for (int k = 0; k < 3; k++) ray[k] = way[(scene * 3 + k) * pixels + pixel];
    follow(its, eye + 3 * scene, ray, to + 3 * scene, wide[scene],
           out + (long)scene * 7 * pixels + pixel, pixels);
}

#endif

}  // namespace

// Pictures (scenes, 7, pixels) of what rays (scenes, 3, pixels) meet; 0, or an error of CUDA.
extern "C" int look(
    const float *slots, const float *around, const int *kinds, const int *objects, int number,
    const float *eye, const float *way, const float *to, const float *wide, float *out, int scenes, int pixels) {
#ifdef __CUDACC__
    each<<<dim3((pixels + 127) / 128, scenes), 128>>>(
        slots, around, kinds, objects, number, eye, way, to, wide, out, pixels);
    return (int)cudaGetLastError();
#else
    for (int scene = 0; scene < scenes; scene++) {
        const float *own = slots + scene * number * NUMBERS;
        int used[MOST_SLOTS], count = 0;
        for (int slot = 0; slot < number; slot++)
            if (own[slot * NUMBERS + MIDDLE] < FAR) used[count++] = slot;
        Scene its = {own, around + scene * SURROUNDINGS, kinds, objects, used, count, number};
        for (int pixel = 0; pixel < pixels; pixel++) {
            float ray[3];
            for (int k = 0; k < 3; k++) ray[k] = way[(scene * 3 + k) * pixels + pixel];
            follow(its, eye + 3 * scene, ray, to + 3 * scene, wide[scene],
                   out + (long)scene * 7 * pixels + pixel, pixels);
        }
    }
    return 0;
#endif
}
