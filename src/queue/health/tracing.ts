/** Traces of batches and mouldings on their way through the queue, sent where OpenTelemetry's own settings say. */
import type { Telemetry } from 'bullmq';
import { VERSION } from '../../version.js';

export interface Tracing {
  /** For BullMQ's queues and workers. */
  readonly telemetry: Telemetry;
  /** Sends what is left. */
  readonly close: () => Promise<void>;
}

type TracingEnvironment = Readonly<Record<string, string | undefined>>;

/** Whether a collector is configured, by the standard's settings. */
function isConfigured(environment: TracingEnvironment): boolean {
  const { OTEL_SDK_DISABLED, OTEL_EXPORTER_OTLP_ENDPOINT, OTEL_EXPORTER_OTLP_TRACES_ENDPOINT } = environment;
  const endpoint = OTEL_EXPORTER_OTLP_TRACES_ENDPOINT ?? OTEL_EXPORTER_OTLP_ENDPOINT ?? '';
  return OTEL_SDK_DISABLED !== 'true' && endpoint !== '';
}

/** Null where no collector is configured: then nothing of it is loaded. */
export async function startTracing(environment: TracingEnvironment): Promise<Tracing | null> {
  if (!isConfigured(environment)) return null;
  const [{ BullMQOtel }, { OTLPTraceExporter }, { BatchSpanProcessor, NodeTracerProvider }, resources] =
    await Promise.all([
      import('bullmq-otel'),
      import('@opentelemetry/exporter-trace-otlp-http'),
      import('@opentelemetry/sdk-trace-node'),
      import('@opentelemetry/resources'),
    ]);
  const name = environment.OTEL_SERVICE_NAME ?? 'pairstop';
  const provider = new NodeTracerProvider({
    resource: resources.resourceFromAttributes({ 'service.name': name, 'service.version': VERSION }),
    // Its address, headers and limits are read from OTEL_EXPORTER_OTLP_…
    spanProcessors: [new BatchSpanProcessor(new OTLPTraceExporter())],
  });
  provider.register();
  return {
    telemetry: new BullMQOtel({ tracerName: 'pairstop', version: VERSION }),
    close: () => provider.shutdown(),
  };
}
