using Microsoft.JSInterop;

namespace Traceability.Kiosk.Device;

/// <summary>What only the browser can do: its key, its durable store, its hints. The other side is wwwroot/js/device.js.</summary>
public sealed class Browser(IJSRuntime js)
{
    private Task<IJSObjectReference>? _module;

    private Task<IJSObjectReference> Module => _module ??= js.InvokeAsync<IJSObjectReference>("import", "./js/device.js").AsTask();

    public async Task<T?> GetAsync<T>(string store, object key) => await (await Module).InvokeAsync<T?>("get", store, key);

    public async Task<List<T>> AllAsync<T>(string store) => await (await Module).InvokeAsync<List<T>>("all", store);

    public async Task PutAsync<T>(string store, object key, T value) => await (await Module).InvokeVoidAsync("put", store, key, value);

    public async Task RemoveAsync(string store, object key) => await (await Module).InvokeVoidAsync("remove", store, key);

    public async Task<byte[]> GetBytesAsync(string key) => await (await Module).InvokeAsync<byte[]>("getBytes", key);

    /// <summary>Stores an entry and moves the device's sequence on in one transaction.</summary>
    /// <returns>False when another tab was first; nothing is stored then.</returns>
    public async Task<bool> CommitAsync(long expectedSequence, Entries.OutboxEntry entry) => await (await Module).InvokeAsync<bool>("commit", expectedSequence, entry);

    /// <summary>Drops an entry's bytes and keeps its short line, in one transaction.</summary>
    public async Task SettleAsync(Entries.OutboxEntry line) => await (await Module).InvokeVoidAsync("settle", line);

    /// <summary>Random bytes, base64.</summary>
    public async Task<string> RandomAsync(int bytes) => await (await Module).InvokeAsync<string>("random", bytes);

    /// <summary>Makes this kiosk's key.</summary>
    /// <returns>The public key, base64 of its SubjectPublicKeyInfo.</returns>
    public async Task<string> MakeKeyAsync() => await (await Module).InvokeAsync<string>("makeKey");

    public async Task<string[]> SignAllAsync(IReadOnlyList<byte[]> texts) => await (await Module).InvokeAsync<string[]>("signAll", texts.Select(Convert.ToBase64String));

    public async Task<string> SignAsync(byte[] bytes) => await (await Module).InvokeAsync<string>("sign", bytes);

    /// <summary>A check value of a secret that only this browser can make: PBKDF2 with SHA-256, then HMAC-SHA-256 with a key that cannot be read out. Base64.</summary>
    public async Task<string> DeriveAsync(string secret, string saltBase64, int iterations) => await (await Module).InvokeAsync<string>("derive", secret, saltBase64, iterations);

    /// <summary>How far local time is ahead of UTC at a moment.</summary>
    public async Task<TimeSpan> OffsetAsync(DateTimeOffset at) => TimeSpan.FromMinutes(await (await Module).InvokeAsync<int>("offsetMinutes", at.ToUnixTimeMilliseconds()));

    public async Task<bool> KeepStorageAsync() => await (await Module).InvokeAsync<bool>("keepStorage");

    public async Task<bool> HoldDeliveryAsync() => await (await Module).InvokeAsync<bool>("holdDelivery");

    public async Task ListenAsync<T>(DotNetObjectReference<T> listener) where T : class => await (await Module).InvokeVoidAsync("listen", listener);

    public async Task RenewAsync() => await (await Module).InvokeVoidAsync("renew");

    public async Task FocusAsync(string elementId) => await (await Module).InvokeVoidAsync("focus", elementId);
}
