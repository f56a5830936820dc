using System.Net.Http.Headers;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Intake;

/// <summary>A running service, and a client of HTTP that knows nothing of it: stations that are not ours.</summary>
public abstract class OutsideTest : IAsyncLifetime
{
    protected const string Single = "application/cloudevents+json", Batch = "application/cloudevents-batch+json";

    protected PlantHost Host { get; private set; } = null!;

    protected HttpClient Http { get; } = new();

    public async Task InitializeAsync() => Host = await PlantHost.StartAsync();

    public async Task DisposeAsync()
    {
        Http.Dispose();
        await Host.DisposeAsync();
    }

    /// <summary>Posts facts as a station's device.</summary>
    /// <param name="type">The media type; null sends none.</param>
    /// <param name="token">A person's sign-on at the device.</param>
    protected Task<HttpResponseMessage> PostAsync(ReadOnlyMemory<byte> body, string? type, string device = "office-1", string? token = null)
    {
        var request = Host.DeviceRequest(HttpMethod.Post, "/v1/facts", device, new ReadOnlyMemoryContent(body) { Headers = { ContentType = type is null ? null : MediaTypeHeaderValue.Parse(type) } });
        if (token is not null) request.Headers.Add("X-Sign-On", token);
        return Http.SendAsync(request);
    }
}
