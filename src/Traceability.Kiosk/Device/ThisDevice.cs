namespace Traceability.Kiosk.Device;

/// <summary>What the kiosk knows of itself, kept in its store.</summary>
/// <param name="Sequence">Number of its last entry; 0 before the first.</param>
/// <param name="Previous">Content hash of its last entry; null before the first.</param>
public sealed record DeviceIdentity(string DeviceId, string Name, long Sequence, string? Previous)
{
    /// <summary>The CloudEvents source of everything it records.</summary>
    public string Source => "/kiosk/" + DeviceId;
}

/// <summary>How far this kiosk's clock is from the service's.</summary>
/// <param name="OffsetMs">This clock minus the service's, milliseconds, the round trip halved.</param>
/// <param name="RoundTripMs">The offset is known no better than half of this.</param>
public sealed record ClockOffset(long OffsetMs, long RoundTripMs, DateTimeOffset MeasuredAt);

/// <summary>This kiosk's identity and clock.</summary>
public sealed class ThisDevice(Browser browser)
{
    public DeviceIdentity? Identity { get; private set; }

    public ClockOffset? Clock { get; private set; }

    /// <summary>Whether the browser promised never to clear the store by itself.</summary>
    public bool StorageKept { get; private set; }

    public async Task LoadAsync()
    {
        Identity = await browser.GetAsync<DeviceIdentity>("meta", "device");
        Clock = await browser.GetAsync<ClockOffset>("meta", "clock");
        StorageKept = await browser.KeepStorageAsync();
    }

    /// <summary>Reads the identity again: another tab may have recorded entries.</summary>
    public async Task<DeviceIdentity> RereadAsync() =>
        Identity = await browser.GetAsync<DeviceIdentity>("meta", "device") ?? throw new InvalidOperationException("This kiosk is not enrolled.");

    public async Task EnrolledAsync(string deviceId, string name)
    {
        Identity = new DeviceIdentity(deviceId, name, 0, null);
        await browser.PutAsync("meta", "device", Identity);
    }

    /// <summary>Keeps what a question to the service told about the two clocks.</summary>
    public async Task MeasuredAsync(DateTimeOffset asked, DateTimeOffset service, DateTimeOffset answered)
    {
        var roundTrip = answered - asked;
        var offset = asked + roundTrip / 2 - service;
        Clock = new ClockOffset((long)Math.Round(offset.TotalMilliseconds), (long)roundTrip.TotalMilliseconds, answered);
        await browser.PutAsync("meta", "clock", Clock);
    }
}
